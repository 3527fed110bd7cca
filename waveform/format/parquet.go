package format

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"

	"slewbook/waveform"
)

// parquetFormat reads a flat Parquet table: a column of time, or the interval
// among the metadata, and columns of numbers.
var parquetFormat = Format{Name: "Parquet table",
	Recognise: func(head []byte, _ string) bool { return bytes.HasPrefix(head, []byte("PAR1")) },
	Read:      readParquet}

// Metadata keys of the tables that are written here.
const (
	parquetDt    = "dt"
	parquetT0    = "t0"
	parquetOrder = "columns"
)

func readParquet(in Input) (captures []*waveform.Capture, err error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	// The library panics on some damaged files.
	defer func() {
		if p := recover(); p != nil {
			captures, err = nil, in.fault(fmt.Sprintf("a Parquet table that is damaged (%v)", p), "", "write it again")
		}
	}()
	f, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, in.fault("a Parquet table that is damaged ("+err.Error()+")", "", "write it again")
	}
	if rows := f.NumRows(); rows < 0 || rows > int64(len(b))*maxRatio {
		return nil, in.fault(fmt.Sprintf("a Parquet table of %d rows in %d bytes", rows, len(b)), "", "write it again")
	}
	var vs []vector
	for i, path := range f.Schema().Columns() {
		if len(path) != 1 {
			continue // nested: no series
		}
		v, ok, err := parquetColumn(f, i)
		if err != nil {
			return nil, in.fault("a Parquet table that is damaged ("+err.Error()+")", "", "write it again")
		}
		if ok {
			v.name = path[0]
			vs = append(vs, v)
		}
	}
	var fields []field
	for _, key := range []string{parquetDt, parquetT0} {
		if s, ok := f.Lookup(key); ok {
			fields = append(fields, field{key: key, values: []string{s}})
		}
	}
	if s, ok := f.Lookup(parquetOrder); ok {
		vs = inOrder(vs, strings.Split(s, "\n"))
	}
	c, err := fromVectors(in, "Parquet table", vs, fields)
	if err != nil {
		return nil, err
	}
	return []*waveform.Capture{c}, nil
}

// parquetColumn reads a column of numbers; ok is false for one of other things.
func parquetColumn(f *parquet.File, at int) (v vector, ok bool, err error) {
	values := make([]parquet.Value, 4096)
	for _, g := range f.RowGroups() {
		col := g.ColumnChunks()[at]
		kind := col.Type().Kind()
		if kind == parquet.Boolean || kind == parquet.ByteArray || kind == parquet.FixedLenByteArray || kind == parquet.Int96 {
			return v, false, nil
		}
		if kind == parquet.Float {
			v.stamps = singlePrecision()
		}
		pages := col.Pages()
		for {
			p, err := pages.ReadPage()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				pages.Close()
				return v, false, err
			}
			r := p.Values()
			for {
				n, err := r.ReadValues(values)
				for _, x := range values[:n] {
					v.y = append(v.y, parquetNumber(x))
				}
				if err != nil {
					break
				}
			}
			parquet.Release(p)
		}
		pages.Close()
	}
	return v, len(v.y) > 0, nil
}

func parquetNumber(x parquet.Value) float64 {
	switch x.Kind() {
	case parquet.Double:
		return x.Double()
	case parquet.Float:
		return float64(x.Float())
	case parquet.Int32:
		return float64(x.Int32())
	case parquet.Int64:
		return float64(x.Int64())
	}
	return math.NaN()
}

// inOrder puts the vectors into the order of the names.
func inOrder(vs []vector, names []string) []vector {
	var out []vector
	for _, n := range names {
		for _, v := range vs {
			if v.name == n {
				out = append(out, v)
			}
		}
	}
	if len(out) != len(vs) {
		return vs
	}
	return out
}

// WriteParquet writes a capture as a Parquet table: time [s] and a column for
// each trace under "name [unit]"; dt and t0 [s] stand in the metadata.
func WriteParquet(w io.Writer, c *waveform.Capture) error {
	if err := c.Check(); err != nil {
		return err
	}
	if !oneAxis(c) {
		return errors.New("its traces stand on different time axes, and a Parquet table has one; convert it to csv or npz")
	}
	a := c.Traces[0]
	columns := map[string]func(k int) float64{"time [s]": a.Time}
	group := parquet.Group{"time [s]": parquet.Leaf(parquet.DoubleType)}
	order := []string{"time [s]"}
	for _, tr := range c.Traces {
		name := vectorName(tr)
		if _, ok := columns[name]; ok {
			return fmt.Errorf("two traces would become the column %q", name)
		}
		columns[name] = func(k int) float64 { return tr.Y[k] }
		group[name] = parquet.Leaf(parquet.DoubleType)
		order = append(order, name)
	}
	schema := parquet.NewSchema("capture", group)
	p := parquet.NewGenericWriter[any](w, schema, parquet.Compression(&parquet.Zstd),
		parquet.KeyValueMetadata(parquetDt, strconv.FormatFloat(a.Dt, 'g', -1, 64)),
		parquet.KeyValueMetadata(parquetT0, strconv.FormatFloat(a.T0, 'g', -1, 64)),
		parquet.KeyValueMetadata(parquetOrder, strings.Join(order, "\n")))
	var get []func(k int) float64
	for _, path := range schema.Columns() {
		get = append(get, columns[path[0]])
	}
	const batch = 1024
	rows := make([]parquet.Row, 0, batch)
	for k := range a.Y {
		row := make(parquet.Row, len(get))
		for i, g := range get {
			row[i] = parquet.DoubleValue(g(k)).Level(0, 0, i)
		}
		rows = append(rows, row)
		if len(rows) == batch || k == len(a.Y)-1 {
			if _, err := p.WriteRows(rows); err != nil {
				return err
			}
			rows = rows[:0]
		}
	}
	return p.Close()
}
