package reports

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// EdgeCurves are the traces of one edge as the figure of a shot shows them, on
// a time axis whose zero is where v passes half the bus.
type EdgeCurves struct {
	Capture string
	curves  map[result.Role]plotter.XYs
}

// ReadEdgeCurves reads the traces of one edge of a shot from the numbers that
// stand beside its figure in a result folder.
func ReadEdgeCurves(dir, capture string, edge result.Edge) (*EdgeCurves, error) {
	for _, part := range []string{"", string(edge)} {
		in, err := os.Open(filepath.Join(dir, figuresDir, filepath.FromSlash(figurePath(capture, part))+".csv"))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		defer in.Close()
		out, err := edgeCurves(in, edge)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", in.Name(), err)
		}
		out.Capture = capture
		return out, nil
	}
	return nil, fmt.Errorf("%s holds no figure of %s; measure with --out to have one", dir, capture)
}

func edgeCurves(in io.Reader, edge result.Edge) (*EdgeCurves, error) {
	out := &EdgeCurves{curves: map[result.Role]plotter.XYs{}}
	zero := math.NaN()
	for r := csv.NewReader(in); ; {
		row, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		for _, role := range mainRoles() {
			if row[0] != string(edge)+" "+string(role) {
				continue
			}
			t, errT := strconv.ParseFloat(row[3], 64)
			switch {
			case row[1] == "event" && errT == nil:
				zero = t
			case row[1] == "curve" && row[2] == "trace":
				y, errY := strconv.ParseFloat(row[4], 64)
				if err := errors.Join(errT, errY); err != nil {
					return nil, err
				}
				out.curves[role] = append(out.curves[role], plotter.XY{X: t, Y: y})
			}
		}
	}
	if math.IsNaN(zero) || len(out.curves) == 0 {
		return nil, fmt.Errorf("no traces of a %s", edge)
	}
	for _, line := range out.curves {
		for k := range line {
			line[k].X -= zero
		}
	}
	return out, nil
}

// DrawPair lays one edge of two campaigns over each other, aligned where v
// passes half the bus; nothing is scaled.
func DrawPair(a, b *EdgeCurves, edge result.Edge, title string, notes []string, style Style) (*Figure, error) {
	if err := style.Validate(); err != nil {
		return nil, err
	}
	f := newFigure(style, string(edge))
	f.height = min(f.height, 0.8*f.width)
	pens := []pen{overlayPen(0, 2), overlayPen(1, 2)}
	pens[0] = pen{Color: ramp(0.12), Width: 1.4}
	pens[1] = pen{Color: ramp(1), Width: 1, Dash: []vg.Length{5, 2}}
	view := waveform.Interval{From: math.Inf(1), To: math.Inf(-1)}
	var panels []*panel
	for _, role := range mainRoles() {
		if a.curves[role] == nil || b.curves[role] == nil {
			continue
		}
		p := &panel{Name: string(edge) + " " + string(role), XUnit: 1e-9, XLabel: "time after v passes half the bus [ns]", Events: []event{{}}}
		for k, side := range []*EdgeCurves{a, b} {
			line := side.curves[role]
			p.Curves = append(p.Curves, curve{string("AB"[k]), pens[k], []plotter.XYs{line}})
			view.From, view.To = min(view.From, line[0].X), max(view.To, line[len(line)-1].X)
		}
		p.valueAxis(roleSymbol(role, false), role.Unit())
		panels = append(panels, p)
	}
	if len(panels) == 0 {
		return nil, fmt.Errorf("%s and %s have no trace of the %s in common", a.Capture, b.Capture, edge)
	}
	for _, p := range panels {
		p.X = view
	}
	legend := []legendEntry{{Pen: pens[0], Text: "A: " + literal(printable(a.Capture, false))}, {Pen: pens[1], Text: "B: " + literal(printable(b.Capture, false))}}
	head := f.headings(10, subs, edgeName(edge)+", "+title, f.width-2*style.length(style.Margin))
	f.fill(sheet{head: withGap(head, 4), columns: []column{{panels: panels}}, legend: legend, notes: notes})
	return f, nil
}
