package format

import (
	"archive/zip"
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// WriteCSV writes a capture as a clean text table: the interval and the fields
// of the original preamble as comments, names with units, time and samples with
// the fewest digits that read back as the same number. Over-range samples are
// inf and -inf, missing ones NaN. A trace on another time axis than the one
// before it has a time column of its own.
func WriteCSV(w io.Writer, c *waveform.Capture) error {
	if err := c.Check(); err != nil {
		return err
	}
	b := bufio.NewWriterSize(w, 1<<16)
	rows := writeHead(b, c)
	line := make([]byte, 0, 256)
	for k := range rows {
		for i, tr := range c.Traces {
			if i == 0 || !sameAxis(tr, c.Traces[i-1]) {
				if i > 0 {
					line = append(line, ',')
				}
				if k < tr.Len() {
					line = strconv.AppendFloat(line, tr.Time(k), 'g', -1, 64)
				}
			}
			if line = append(line, ','); k < tr.Len() {
				line = appendSample(line, tr.Y[k])
			}
		}
		b.Write(append(line, '\n'))
		line = line[:0]
	}
	return b.Flush()
}

// writeHead writes what stands above the rows and returns how many there are.
func writeHead(b *bufio.Writer, c *waveform.Capture) (rows int) {
	var names, intervals, starts []string
	for i, tr := range c.Traces {
		rows = max(rows, tr.Len())
		if i == 0 || !sameAxis(tr, c.Traces[i-1]) {
			names = append(names, "Time (s)")
		}
		names = append(names, cell(tr.Name+" ("+tr.Unit+")"))
		intervals, starts = append(intervals, shortest(tr.Dt)+" s"), append(starts, shortest(tr.T0)+" s")
	}
	if oneAxis(c) {
		intervals, starts = intervals[:1], starts[:1]
	}
	fmt.Fprintf(b, "# Sample interval: %s\n# Start time: %s\n# Record length: %d\n", strings.Join(intervals, ", "), strings.Join(starts, ", "), rows)
	for _, f := range c.Header {
		// Said of the original: a multiplier must not be applied again.
		key := strings.TrimPrefix(f.Key, originalKey)
		fmt.Fprintf(b, "# %s%s: %s\n", originalKey, oneLine(key), oneLine(f.Value))
	}
	b.WriteString(strings.Join(names, ",") + "\n")
	return rows
}

const originalKey = "original "

func shortest(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func appendSample(b []byte, y float64) []byte {
	switch {
	case math.IsInf(y, 1):
		return append(b, "inf"...)
	case math.IsInf(y, -1):
		return append(b, "-inf"...)
	}
	return strconv.AppendFloat(b, y, 'g', -1, 64)
}

// cell quotes a name where it must be.
func cell(s string) string {
	s = strings.ReplaceAll(oneLine(s), `"`, "'")
	if strings.ContainsAny(s, ",;") {
		return `"` + s + `"`
	}
	return s
}

func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' {
			return ' '
		}
		return r
	}, s)
}

// oneAxis tells whether all traces have the time axis of the first.
func oneAxis(c *waveform.Capture) bool {
	return !slices.ContainsFunc(c.Traces, func(tr *waveform.Trace) bool { return !sameAxis(tr, c.Traces[0]) })
}

func sameAxis(a, b *waveform.Trace) bool {
	return a.T0 == b.T0 && a.Dt == b.Dt && len(a.Y) == len(b.Y)
}

// WriteNpz writes a capture as a NumPy archive: dt and t0 [s] as scalars and an
// array for each trace under "name [unit]"; sample k was taken at t0 + k·dt.
// Where the traces have several time axes each stands with its own in a folder.
func WriteNpz(w io.Writer, c *waveform.Capture) error {
	if err := c.Check(); err != nil {
		return err
	}
	z := zip.NewWriter(w)
	single := oneAxis(c)
	for i, tr := range c.Traces {
		folder := ""
		if !single {
			folder = fmt.Sprintf("channel %d/", i+1)
		}
		if i == 0 || !single {
			if err := writeNpy(z, folder+"dt", "()", []float64{tr.Dt}); err != nil {
				return err
			}
			if err := writeNpy(z, folder+"t0", "()", []float64{tr.T0}); err != nil {
				return err
			}
		}
		if err := writeNpy(z, folder+vectorName(tr), fmt.Sprintf("(%d,)", len(tr.Y)), tr.Y); err != nil {
			return err
		}
	}
	return z.Close()
}

// vectorName is "name [unit]".
func vectorName(tr *waveform.Trace) string {
	return strings.NewReplacer("/", "∕", "\\", "∕").Replace(oneLine(tr.Name)) + " [" + tr.Unit + "]"
}

func writeNpy(z *zip.Writer, name, shape string, y []float64) error {
	f, err := z.CreateHeader(&zip.FileHeader{Name: name + ".npy", Method: zip.Store})
	if err != nil {
		return err
	}
	head := fmt.Sprintf("{'descr': '<f8', 'fortran_order': False, 'shape': %s, }", shape)
	pad := 63 - (len(npyMagic)+4+len(head))%64 // the samples start at a multiple of 64
	head += strings.Repeat(" ", pad) + "\n"
	b := bufio.NewWriterSize(f, 1<<16)
	b.WriteString(npyMagic + "\x01\x00")
	binary.Write(b, binary.LittleEndian, uint16(len(head)))
	b.WriteString(head)
	var space [8]byte
	for _, v := range y {
		binary.LittleEndian.PutUint64(space[:], math.Float64bits(v))
		b.Write(space[:])
	}
	return b.Flush()
}
