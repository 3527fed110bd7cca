package format

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"slewbook/waveform"
)

// record is a capture of n samples on three channels.
func record(n int) *waveform.Capture {
	c := &waveform.Capture{Segments: 1}
	for k, name := range []string{"Vds", "Id", "Vgs"} {
		tr := &waveform.Trace{Name: name, Unit: []string{"V", "A", "V"}[k], T0: -1e-6, Dt: 8e-10, Y: make([]float64, n)}
		for i := range tr.Y {
			tr.Y[i] = float64((i*(k+7))%1021) * 0.3125 / float64(k+1)
		}
		c.Traces = append(c.Traces, tr)
	}
	return c
}

// csvText is the record with stamps of thirteen digits and samples of six.
func csvText(c *waveform.Capture) []byte {
	var b bytes.Buffer
	b.WriteString("Time (s),Vds (V),Id (A),Vgs (V)\n")
	for k := range c.Traces[0].Y {
		fmt.Fprintf(&b, "%.12e,%.6g,%.6g,%.6g\n", c.Traces[0].Time(k), c.Traces[0].Y[k], c.Traces[1].Y[k], c.Traces[2].Y[k])
	}
	return b.Bytes()
}

// BenchmarkRead reads files of each form from the disk: MB/s of the file, and
// allocations, which do not grow with the rows.
func BenchmarkRead(b *testing.B) {
	for _, n := range []int{1e4, 1e5, 1e6, 1e7} {
		if n > 1e5 && testing.Short() {
			continue
		}
		c := record(n)
		for _, form := range []string{"csv", "npz", "parquet"} {
			b.Run(fmt.Sprintf("%s/%d", form, n), func(b *testing.B) {
				var file bytes.Buffer
				switch form {
				case "csv":
					file.Write(csvText(c))
				case "npz":
					WriteNpz(&file, c)
				case "parquet":
					WriteParquet(&file, c)
				}
				name := filepath.Join(b.TempDir(), "a."+form)
				if err := os.WriteFile(name, file.Bytes(), 0o666); err != nil {
					b.Fatal(err)
				}
				b.SetBytes(int64(file.Len()))
				file = bytes.Buffer{}
				b.ReportAllocs()
				for b.Loop() {
					if _, err := readOne(name); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// BenchmarkReadFixture reads the small files of testdata/layouts, which shows
// what opening and recognising costs.
func BenchmarkReadFixture(b *testing.B) {
	for _, name := range []string{"plain.csv", "colon-tab.txt", "vectors.mat", "comtrade-binary.cfg", "spice-binary.raw", "block-msb.bin", "hdf5-chunked.h5"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := readOne(filepath.Join(layouts, name)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
