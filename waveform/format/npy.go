package format

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"path"
	"regexp"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// npyFormat reads a NumPy array file (NEP 1): time and channels side by side.
var npyFormat = Format{Name: "NumPy array",
	Recognise: func(head []byte, _ string) bool { return bytes.HasPrefix(head, []byte(npyMagic)) },
	Read:      readNpy}

// npzFormat reads a NumPy archive of named arrays.
var npzFormat = Format{Name: "NumPy archive",
	Recognise: func(head []byte, name string) bool {
		return isZip(head) && strings.EqualFold(path.Ext(name), ".npz")
	},
	Read: readNpz}

const npyMagic = "\x93NUMPY"

// array is an array of numbers, row by row.
type array struct {
	rows, columns int
	y             []float64
	single        bool // of 32-bit floats
	flat          bool // of one dimension
	fortran       bool // column by column
}

var (
	npyDescr = regexp.MustCompile(`'descr':\s*'([<>|=]?)([biuf])(\d+)'`)
	npyOrder = regexp.MustCompile(`'fortran_order':\s*(True|False)`)
	npyShape = regexp.MustCompile(`'shape':\s*\(([^)]*)\)`)
)

// npyParts returns the header of a NumPy array and what stands behind it.
func npyParts(b []byte) (head, data []byte, err error) {
	if len(b) < 12 || !bytes.HasPrefix(b, []byte(npyMagic)) {
		return nil, nil, fmt.Errorf("a NumPy array that is cut short")
	}
	n, at := int(binary.LittleEndian.Uint16(b[8:])), 10
	if b[6] >= 2 {
		n, at = int(binary.LittleEndian.Uint32(b[8:])), 12
	}
	if n < 0 || n > len(b)-at {
		return nil, nil, fmt.Errorf("a NumPy array that is cut short")
	}
	return b[at : at+n], b[at+n:], nil
}

// parseNpy reads an array of at most two dimensions.
func parseNpy(b []byte) (array, error) {
	h, data, err := npyParts(b)
	if err != nil {
		return array{}, err
	}
	descr, order, shape := npyDescr.FindSubmatch(h), npyOrder.FindSubmatch(h), npyShape.FindSubmatch(h)
	if descr == nil || order == nil || shape == nil {
		return array{}, fmt.Errorf("a NumPy array of a kind that holds no plain numbers: %s", quote(h))
	}
	a := array{rows: 1, columns: 1, fortran: string(order[1]) == "True"}
	if err := a.setShape(string(shape[1])); err != nil {
		return array{}, err
	}
	size, _ := strconv.Atoi(string(descr[3]))
	get := numberGetter(string(descr[2]), size, string(descr[1]) == ">")
	if get == nil {
		return array{}, fmt.Errorf("a NumPy array of type %s%d", descr[2], size)
	}
	a.single = string(descr[2]) == "f" && size < 8
	total := a.rows * a.columns
	if total > len(data)/size {
		return array{}, fmt.Errorf("a NumPy array of %d numbers that is cut short after %d", total, len(data)/size)
	}
	a.y = make([]float64, total)
	for k := range a.y {
		a.y[k] = get(data[k*size:])
	}
	return a, nil
}

var (
	npyRecord = regexp.MustCompile(`'descr':\s*\[(.*?)\]`)
	npyMember = regexp.MustCompile(`\('([^']*)',\s*'([<>|=]?)([a-zA-Z?])(\d+)'\)`)
)

// npyRecords reads an array of records of one dimension; ok is false for
// another array.
func npyRecords(b []byte) (vs []vector, ok bool, err error) {
	h, data, err := npyParts(b)
	list, shape := npyRecord.FindSubmatch(h), npyShape.FindSubmatch(h)
	if err != nil || list == nil || shape == nil {
		return nil, false, err
	}
	var a array
	if err := a.setShape(string(shape[1])); err != nil || !a.flat {
		return nil, false, fmt.Errorf("an array of records of shape (%s)", shape[1])
	}
	var members []recordMember
	size := 0
	for _, m := range npyMember.FindAllSubmatch(list[1], -1) {
		n, _ := strconv.Atoi(string(m[4]))
		kind := string(m[3])
		if kind == "U" {
			n *= 4
		}
		members = append(members, recordMember{string(m[1]), kind, n, string(m[2]) == ">", size})
		if size += n; n <= 0 || size > 1<<20 {
			return nil, false, fmt.Errorf("an array of records of %d bytes", size)
		}
	}
	if len(members) != bytes.Count(list[1], []byte("(")) || size == 0 {
		return nil, false, fmt.Errorf("an array of records that hold more than numbers and words: %s", quote(list[1]))
	}
	if a.rows > len(data)/size {
		return nil, false, fmt.Errorf("an array of %d records that is cut short after %d", a.rows, len(data)/size)
	}
	return fromRecords(data, size, a.rows, members), true, nil
}

// setShape reads "1000, 4". Extents that multiply to more than any file holds
// are refused.
func (a *array) setShape(s string) error {
	var dims []int
	for _, f := range strings.Split(s, ",") {
		if f = strings.TrimSpace(f); f == "" {
			continue
		}
		n, err := strconv.Atoi(f)
		if err != nil || n < 0 || n > 1<<40 {
			return fmt.Errorf("a NumPy array of shape (%s)", s)
		}
		dims = append(dims, n)
	}
	switch {
	case len(dims) == 1:
		a.rows, a.flat = dims[0], true
	case len(dims) == 2 && (dims[1] == 0 || dims[0] <= (1<<40)/dims[1]):
		a.rows, a.columns = dims[0], dims[1]
	case len(dims) > 2:
		return fmt.Errorf("a NumPy array of %d dimensions", len(dims))
	case len(dims) == 2:
		return fmt.Errorf("a NumPy array of shape (%s)", s)
	}
	return nil
}

// numberGetter returns how a number of that kind is read: b, i, u or f with its
// size in bytes; nil if there is none.
func numberGetter(kind string, size int, big bool) func(b []byte) float64 {
	var order binary.ByteOrder = binary.LittleEndian
	if big {
		order = binary.BigEndian
	}
	switch fmt.Sprint(kind, size) {
	case "f8":
		return func(b []byte) float64 { return math.Float64frombits(order.Uint64(b)) }
	case "f4":
		return func(b []byte) float64 { return float64(math.Float32frombits(order.Uint32(b))) }
	case "i8":
		return func(b []byte) float64 { return float64(int64(order.Uint64(b))) }
	case "i4":
		return func(b []byte) float64 { return float64(int32(order.Uint32(b))) }
	case "i2":
		return func(b []byte) float64 { return float64(int16(order.Uint16(b))) }
	case "i1":
		return func(b []byte) float64 { return float64(int8(b[0])) }
	case "u8":
		return func(b []byte) float64 { return float64(order.Uint64(b)) }
	case "u4":
		return func(b []byte) float64 { return float64(order.Uint32(b)) }
	case "u2":
		return func(b []byte) float64 { return float64(order.Uint16(b)) }
	case "u1", "b1":
		return func(b []byte) float64 { return float64(b[0]) }
	}
	return nil
}

// series returns the array's series: the columns, or the rows where there are
// fewer of them.
func (a array) series() [][]float64 {
	n, count, step, stride := a.rows, a.columns, a.columns, 1
	if a.fortran {
		step, stride = 1, a.rows
	}
	if a.columns > a.rows && !a.flat {
		n, count, step, stride = a.columns, a.rows, stride, step
	}
	all := make([][]float64, count)
	for k := range all {
		if step == 1 {
			all[k] = a.y[k*stride : k*stride+n]
			continue
		}
		all[k] = make([]float64, n)
		for i := range all[k] {
			all[k][i] = a.y[k*stride+i*step]
		}
	}
	return all
}

// vectors returns the series of an array of that name in a group: numbered, and
// known as those of one table, where there are several.
func (a array) vectors(group, name, table string) []vector {
	all := a.series()
	vs := make([]vector, len(all))
	for k, y := range all {
		vs[k] = vector{name: name, group: group, y: y, stamps: a.stamps()}
		if len(all) > 1 {
			vs[k].name, vs[k].table = fmt.Sprintf("%s_%d", name, k+1), table
		}
	}
	return vs
}

// inGroup returns those of an array whose path in a container tells its group.
func (a array) inGroup(name string) []vector {
	return a.vectors(strings.Trim(path.Dir("/"+name), "/"), path.Base(name), name)
}

func (a array) stamps() precision {
	if a.single {
		return singlePrecision()
	}
	return noPrecision
}

func readNpy(in Input) ([]*waveform.Capture, error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	vs, ok, err := npyRecords(b)
	if err != nil {
		return nil, in.fault(err.Error(), "numbers", "")
	}
	if ok {
		return fromGroups(in, "NumPy array of records", vs, nil)
	}
	a, err := parseNpy(b)
	if err != nil {
		return nil, in.fault(err.Error(), "numbers in one or two dimensions", "")
	}
	for _, y := range a.series() {
		vs = append(vs, vector{y: y, stamps: a.stamps()})
	}
	numbered(vs)
	if len(vs) == 0 {
		return nil, in.fault("a NumPy array without numbers", "time and samples", "")
	}
	c, err := fromVectors(in, "NumPy array", vs, nil)
	if err != nil {
		return nil, err
	}
	if len(c.Traces) > 1 {
		unnamed(c)
	}
	return []*waveform.Capture{c}, nil
}

// numbered names the columns of a table without names: time, if the first grows
// and others stand beside it, and 1, 2, 3.
func numbered(vs []vector) {
	first := 0
	if len(vs) > 1 && grows(vs[0].y) {
		vs[0].name, first = "time", 1
	}
	for k := first; k < len(vs); k++ {
		vs[k].name = fmt.Sprint(k + 1 - first)
	}
}

// aloneTable names the columns of the one table that a container holds, whose
// columns are no vectors with names of their own; it tells whether there is one.
func aloneTable(vs []vector) bool {
	var columns []int
	for k, v := range vs {
		if len(v.y) < 2 {
			continue
		}
		if v.table == "" || (len(columns) > 0 && vs[columns[0]].table != v.table) {
			return false
		}
		columns = append(columns, k)
	}
	if len(columns) < 2 || !grows(vs[columns[0]].y) {
		return false
	}
	vs[columns[0]].name = "time"
	for i, k := range columns[1:] {
		vs[k].name = fmt.Sprint(i + 1)
	}
	return true
}

// grows tells whether the series can be time.
func grows(y []float64) bool {
	for k := 1; k < len(y); k++ {
		if !(y[k] >= y[k-1]) {
			return false
		}
	}
	return len(y) > 1 && y[len(y)-1] > y[0]
}

func readNpz(in Input) ([]*waveform.Capture, error) {
	b, err := in.bytes()
	if err != nil {
		return nil, err
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, in.fault("a NumPy archive that "+packingFault(err), "", "write it again")
	}
	var vs []vector
	for _, f := range z.File {
		name := strings.TrimSuffix(f.Name, ".npy")
		r, err := f.Open()
		if err != nil {
			return nil, in.fault("a NumPy archive that "+packingFault(err), "", "write it again")
		}
		data, err := readBounded(r, int64(f.CompressedSize64))
		r.Close()
		if err != nil {
			return nil, in.fault("a NumPy archive that "+packingFault(err), "", "write it again")
		}
		if records, ok, err := npyRecords(data); ok && err == nil {
			for _, v := range records {
				v.group = name
				vs = append(vs, v)
			}
			continue
		}
		a, err := parseNpy(data)
		if err != nil {
			continue // words, objects: no series
		}
		vs = append(vs, a.inGroup(name)...)
	}
	return fromGroups(in, "NumPy archive", vs, nil)
}
