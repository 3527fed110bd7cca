package format

import (
	"archive/zip"
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// WriteCSV writes a capture as a clean text table: the interval and the fields
// of the original preamble as comments, names with units, time and samples with
// the fewest digits that read back as the same number. Over-range samples are
// inf and -inf, missing ones NaN. All traces must stand on one time axis.
func WriteCSV(w io.Writer, c *waveform.Capture) error {
	if err := oneAxis(c); err != nil {
		return err
	}
	b := bufio.NewWriterSize(w, 1<<16)
	a := c.Traces[0]
	fmt.Fprintf(b, "# Sample interval: %s s\n# Start time: %s s\n# Record length: %d\n", shortest(a.Dt), shortest(a.T0), a.Len())
	for _, f := range c.Header {
		// Said of the original: a multiplier must not be applied again.
		key := strings.TrimPrefix(f.Key, originalKey)
		fmt.Fprintf(b, "# %s%s: %s\n", originalKey, oneLine(key), oneLine(f.Value))
	}
	b.WriteString("Time (s)")
	for _, tr := range c.Traces {
		b.WriteByte(',')
		b.WriteString(cell(tr.Name + " (" + tr.Unit + ")"))
	}
	line := make([]byte, 0, 256)
	for k := range a.Y {
		line = append(line, '\n')
		line = strconv.AppendFloat(line, a.Time(k), 'g', -1, 64)
		for _, tr := range c.Traces {
			line = append(line, ',')
			line = appendSample(line, tr.Y[k])
		}
		b.Write(line)
		line = line[:0]
	}
	b.WriteByte('\n')
	return b.Flush()
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
func oneAxis(c *waveform.Capture) error {
	if err := c.Check(); err != nil {
		return err
	}
	a := c.Traces[0]
	for _, tr := range c.Traces[1:] {
		if tr.T0 != a.T0 || tr.Dt != a.Dt || len(tr.Y) != len(a.Y) {
			return fmt.Errorf("traces %q and %q stand on different time axes; a table has one", a.Name, tr.Name)
		}
	}
	return nil
}

// WriteNpz writes a capture as a NumPy archive: dt and t0 [s] as scalars and an
// array for each trace under "name [unit]"; sample k was taken at t0 + k·dt.
func WriteNpz(w io.Writer, c *waveform.Capture) error {
	if err := oneAxis(c); err != nil {
		return err
	}
	z := zip.NewWriter(w)
	a := c.Traces[0]
	for _, s := range []struct {
		name string
		v    float64
	}{{"dt", a.Dt}, {"t0", a.T0}} {
		if err := writeNpy(z, s.name, "()", []float64{s.v}); err != nil {
			return err
		}
	}
	for _, tr := range c.Traces {
		if err := writeNpy(z, vectorName(tr), fmt.Sprintf("(%d,)", len(tr.Y)), tr.Y); err != nil {
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
