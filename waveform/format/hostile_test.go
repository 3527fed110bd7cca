package format

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// refused reads a file that must be refused with those words, and within so
// much memory.
func refused(t *testing.T, name string, content []byte, want string) {
	t.Helper()
	p := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(p, content, 0o666); err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	sources, _, err := Find(p, Options{})
	if err == nil {
		_, err = sources[0].Read()
	}
	runtime.ReadMemStats(&after)
	if err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v; want ...%s...", err, want)
	}
	if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 600 {
		t.Errorf("%d MB were allocated on the way", mb)
	}
}

// zeros is a stream of so many bytes of a table that never ends.
func zeros(n int64) io.Reader {
	return io.LimitReader(repeat{}, n)
}

type repeat struct{}

func (repeat) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = "0,0\n"[i%4]
	}
	return len(b) &^ 3, nil
}

func TestBombs(t *testing.T) {
	const size = 300 << 20
	var g bytes.Buffer
	w := gzip.NewWriter(&g)
	io.Copy(w, zeros(size))
	w.Close()
	refused(t, "bomb.csv.gz", g.Bytes(), "unpacks to more than")
	var z bytes.Buffer
	zw := zip.NewWriter(&z)
	f, err := zw.Create("bomb.csv")
	if err != nil {
		t.Fatal(err)
	}
	io.Copy(f, zeros(size))
	zw.Close()
	refused(t, "bomb.zip", z.Bytes(), "unpacks to more than")
}

func TestLongLine(t *testing.T) {
	refused(t, "line.csv", bytes.Repeat([]byte("1.5,"), 10<<20/4), "one line of 262144 bytes or more without a line end")
	rows := "Time (s),a (V)\n" + rowsOf(100_000, 0, 1e-9, "%.5e,", func(int) string { return "1" })
	refused(t, "later.csv", []byte(rows+strings.Repeat("1.5,", 3<<20)+"\n"+rows), "fields; expected 2")
}

func TestSizesThatLie(t *testing.T) {
	head := "{'descr': '<f8', 'fortran_order': False, 'shape': (1000000000, 4), }"
	refused(t, "lie.npy", []byte(npyMagic+"\x01\x00"+string([]byte{byte(len(head)), 0})+head+"12345678"), "cut short")
	refused(t, "lie.bin", []byte("XINCR 1E-9;YMULT 1;BYTES 2;#9999999999\x00\x01\x00\x02"), "cut short")
	refused(t, "lie.raw", []byte("Title: x\nFlags: real\nNo. Variables: 2\nNo. Points: 999999999\nVariables:\n\t0\ttime\ttime\n\t1\tv\tvoltage\nBinary:\n12345678"), "0 points of 999999999")
	mat := make([]byte, 128, 200)
	copy(mat[124:], "\x00\x01IM")
	refused(t, "lie.mat", append(mat, 14, 0, 0, 0, 255, 255, 255, 255), "cut short")
}

// Text with bytes in it that are none says where.
func TestBrokenText(t *testing.T) {
	body := "Time (s),a (V)\n" + rowsOf(1000, 0, 1e-9, "%.5e,", func(int) string { return "1" })
	refused(t, "hole.csv", []byte(body[:5000]+strings.Repeat("\x00", 500)+body[5500:]), `text that is broken at byte 5000 by "\x00\x00\x00\x00"`)
}

// A file that shrinks while it is read is an error, not a crash.
func TestShrinking(t *testing.T) {
	body := "Time (s),a (V)\n" + rowsOf(200_000, 0, 1e-9, "%.5e,", func(int) string { return "1" })
	in := Input{Name: "a.csv", file: strings.NewReader(body[:len(body)/2]), size: int64(len(body))}
	if _, err := readText(in); err == nil || !strings.Contains(err.Error(), "became shorter while it was read") {
		t.Error(err)
	}
}
