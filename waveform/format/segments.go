package format

import (
	"fmt"
	"regexp"
	"strings"

	"slewbook/waveform"
)

// part is the rows of one segment.
type part struct {
	rows
	first int // row of the file
}

// segments cuts the rows into the segments that the file says it holds: by
// their number in the preamble, by a column that counts them, or by lines
// without samples before each at which time starts again. Without any of these
// a file is one record, and a step back in time is an error.
func (t *table) segments(r rows) ([]part, *axisError) {
	if n := t.statedSegments(); n > 1 {
		if r.n%n != 0 || r.n/n < 2 {
			return nil, &axisError{-1, fmt.Sprintf("%d segments in the header over %d rows", n, r.n), "as many rows in each segment", "export again"}
		}
		var starts []int
		for k := range n {
			starts = append(starts, k*(r.n/n))
		}
		return r.cut(starts), nil
	}
	if k := t.segmentColumn(); k >= 0 {
		starts := []int{0}
		for i := 1; i < r.n; i++ {
			if r.y[k][i] != r.y[k][i-1] {
				starts = append(starts, i)
			}
		}
		if len(starts) <= r.n/2 {
			t.columns[k].kind = nothing
			return r.cut(starts), nil
		}
	}
	return r.cut(t.restarts(r)), nil
}

// cut cuts the rows at these starts.
func (r rows) cut(starts []int) []part {
	var all []part
	for i, from := range starts {
		to := r.n
		if i+1 < len(starts) {
			to = starts[i+1]
		}
		p := part{rows: rows{y: make([][]float64, len(r.y)), n: to - from, stamps: r.stamps, varied: r.varied, plain: r.plain}, first: from}
		for k, y := range r.y {
			if y != nil {
				p.y[k] = y[from:to:to]
			}
		}
		all = append(all, p)
	}
	return all
}

// statedSegments returns the number of segments in the preamble, 0 if it gives
// none.
func (t *table) statedSegments() int {
	if f, ok := find(t.fields, meansSegments); ok {
		if n, ok := t.stated(f, ""); ok && n >= 2 && n <= 1<<20 && n == float64(int(n)) {
			return int(n)
		}
	}
	return 0
}

var segmentName = regexp.MustCompile(`(?i)^(segment|seg|frame|shot|sweep|acquisition|acq|capture|record)([ _-]?(no\.?|nr\.?|num(ber)?|index|id|#))?$`)

// segmentColumn returns the column that numbers the segments, -1 if there is
// none.
func (t *table) segmentColumn() int {
	for k, c := range t.columns {
		if c.kind != numbers || c.time || c.unit != "" || !segmentName.MatchString(c.name) {
			continue
		}
		whole := true
		for _, cell := range c.cells {
			whole = whole && strings.Trim(cell, "0123456789") == "" && cell == c.cells[0]
		}
		if whole {
			return k
		}
	}
	return -1
}

// restarts returns where the segments start if time goes back only behind lines
// without samples; else the one start.
func (t *table) restarts(r rows) []int {
	starts := []int{0}
	k := t.firstTime()
	if k < 0 || len(r.breaks) == 0 {
		return starts
	}
	breaks := map[int]bool{}
	for _, b := range r.breaks {
		breaks[b] = true
	}
	for i := 1; i < r.n; i++ {
		if !(r.y[k][i] < r.y[k][i-1]) {
			continue
		}
		if !breaks[i] || i-starts[len(starts)-1] < 2 {
			return starts[:1]
		}
		starts = append(starts, i)
	}
	return starts
}

// trigger returns what the preamble says of segment n: "#2,01-Jan-2024
// 10:00:00,0.00125".
func (t *table) trigger(n int) []waveform.Field {
	for _, f := range t.fields {
		key := strings.TrimSpace(strings.TrimPrefix(strings.ToLower(f.key), "segment"))
		if strings.TrimPrefix(key, "#") == fmt.Sprint(n) && len(f.values) > 0 {
			return []waveform.Field{{Key: "Trigger", Value: strings.Join(f.values, " ")}}
		}
	}
	return nil
}
