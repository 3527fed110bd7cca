package format

// recordMember is a number inside a record, as arrays of structures hold them.
type recordMember struct {
	name   string
	kind   string // as for numberGetter, "" for what is no number
	size   int
	big    bool
	offset int
}

// fromRecords returns a vector for each member that is a number, of n records
// of that size.
func fromRecords(raw []byte, size, n int, members []recordMember) []vector {
	var vs []vector
	for _, m := range members {
		get := numberGetter(m.kind, m.size, m.big)
		if get == nil || m.offset < 0 || m.offset+m.size > size {
			continue
		}
		v := vector{name: m.name, y: make([]float64, n), stamps: noPrecision}
		if m.kind == "f" && m.size < 8 {
			v.stamps = singlePrecision()
		}
		for k := range v.y {
			v.y[k] = get(raw[k*size+m.offset:])
		}
		vs = append(vs, v)
	}
	return vs
}
