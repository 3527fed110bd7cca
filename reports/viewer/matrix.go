package viewer

import (
	"slewbook/dpt/result"
	"slewbook/reports"
)

// matrix is the campaign's matrix as the page shows it.
type matrix struct {
	Legend string
	Blocks []reports.MatrixBlock
}

// newMatrix returns nil where there is no cell.
func newMatrix(m result.Matrix) *matrix {
	if len(m.Cells) == 0 {
		return nil
	}
	return &matrix{Legend: reports.MatrixLegend(m.Planned), Blocks: reports.MatrixBlocks(m)}
}
