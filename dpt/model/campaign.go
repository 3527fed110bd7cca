package model

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"

	"slewbook/waveform"
)

// Campaign returns the invented campaign of the demo: the demo module at three
// bus voltages and four load currents, named such as "bus-600V/i-050A".
func Campaign() []Shot {
	var shots []Shot
	for _, v := range []float64{300, 600, 800} {
		for _, i := range []float64{25, 50, 75, 100} {
			s := Demo(v, i)
			s.Name = fmt.Sprintf("bus-%03.0fV/i-%03.0fA", v, i)
			shots = append(shots, s)
		}
	}
	return shots
}

// SetupTOML returns the setup file that belongs to the campaign and the
// instrument that recorded it.
func SetupTOML(in Instrument) string {
	s := Demo(600, 50)
	text := "# slewbook demo module: invented, like every figure here.\n"
	for _, c := range []struct {
		role, source, unit string
		ch                 Channel
	}{{"vds", "Vds", "V", in.V}, {"id", "Id", "A", in.I}, {"vgs", "Vgs", "V", in.Vgs}} {
		text += fmt.Sprintf("\n[channel.%s]\nsource = %q\ndelay  = \"0 ns\"\n", c.role, c.source)
		if c.ch.Bits > 0 {
			text += fmt.Sprintf("bits   = %d\nrange  = \"%g %s\"\n", c.ch.Bits, c.ch.Range.Max-c.ch.Range.Min, c.unit)
		}
	}
	return text + fmt.Sprintf(`
[device]
kind = "mosfet"
name = "invented module, sample 1"

[circuit]
rg_on     = "%g ohm"
rg_off    = "%g ohm"
l_loop    = "%g nH"
l_load    = "%g uH"
c_bus     = "%g uF"
freewheel = "body diode"

[conditions]
tj       = "%g K"
position = "low side"
`, s.RgOn, s.RgOff, s.LLoop*1e9, s.LLoad*1e6, s.CBus*1e6, s.Tj)
}

// WriteCSV writes the capture as a table with the header
// "Time (s),Vds (V),Id (A),Vgs (V)", one row a sample. Times are good to a
// part in 10^12 of the record, values to a part in 10^9.
func WriteCSV(w io.Writer, c *waveform.Capture) error {
	if err := c.Check(); err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	out.WriteString("Time (s)")
	for _, tr := range c.Traces {
		fmt.Fprintf(out, ",%s (%s)", tr.Name, tr.Unit)
	}
	first := c.Traces[0]
	var buf []byte
	for k := range first.Y {
		buf = append(buf[:0], '\n')
		// Rounding to 10^-15 s takes off what T0 + k·Dt leaves in the last digits.
		t := math.Round(first.Time(k)*1e15) / 1e15
		buf = strconv.AppendFloat(buf, t, 'g', -1, 64)
		for _, tr := range c.Traces {
			buf = append(buf, ',')
			buf = strconv.AppendFloat(buf, rounded(tr.Y[k]), 'g', -1, 64)
		}
		out.Write(buf)
	}
	out.WriteByte('\n')
	return out.Flush()
}

// rounded returns y to nine significant digits.
func rounded(y float64) float64 {
	if y == 0 || math.IsNaN(y) || math.IsInf(y, 0) {
		return y
	}
	p := math.Pow(10, 8-math.Floor(math.Log10(math.Abs(y))))
	return math.Round(y*p) / p
}
