package format

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// fuzzFormat fuzzes a format from the files of its kind in testdata: nothing
// panics, and if it parsed, Check holds.
func fuzzFormat(f *testing.F, format Format, name string, patterns ...string) {
	for _, p := range patterns {
		files, err := filepath.Glob(filepath.Join(layouts, p))
		if err != nil {
			f.Fatal(err)
		}
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 || !format.Recognise(data, name) {
			return
		}
		in := Input{Name: name, Data: data}
		if i := bytes.Index(data, []byte("\n---\n")); i >= 0 { // the companion, for those that have one
			in.Data = data[:i+1]
			in.sibling = func(string) (Input, error) { return Input{Name: name, Data: data[i+5:]}, nil }
		}
		captures, err := format.Read(in)
		if err != nil {
			return
		}
		for _, c := range captures {
			if err := c.Check(); err != nil {
				t.Error(err)
			}
		}
	})
}

func FuzzNpy(f *testing.F)      { fuzzFormat(f, npyFormat, "a.npy", "*.npy") }
func FuzzNpz(f *testing.F)      { fuzzFormat(f, npzFormat, "a.npz", "*.npz") }
func FuzzMat(f *testing.F)      { fuzzFormat(f, matFormat, "a.mat", "*.mat") }
func FuzzComtrade(f *testing.F) { fuzzFormat(f, comtradeFormat, "a.cfg", "*.cfg", "*.cff") }
func FuzzSpice(f *testing.F)    { fuzzFormat(f, spiceFormat, "a.raw", "*.raw") }
func FuzzBlock(f *testing.F)    { fuzzFormat(f, blockFormat, "a.bin", "*.bin") }
func FuzzHDF5(f *testing.F)     { fuzzFormat(f, hdf5Format, "a.h5", "*.h5") }
func FuzzParquet(f *testing.F)  { fuzzFormat(f, parquetFormat, "a.parquet", "*.parquet") }
