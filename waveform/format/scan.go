package format

import "math"

// scanner reads rows that hold nothing but plain numbers. It guesses that a
// cell is printed as the one above, which a few operations on eight bytes at a
// time tell, without a loop over digits or a choice that depends on them: noise
// has no rhythm that a processor could foresee.
type scanner struct {
	columns []scanColumn
	point   byte // decimal mark
	sep     byte
	eol     byte
	more    byte // what follows the end of the last cell of a row, 0 for nothing
	row     int
}

// scanColumn is a column of numbers under reading.
type scanColumn struct {
	y      []float64
	shift  int // power of ten to the unit
	time   bool
	stamps *precision
	end    byte // what stands behind its cells
	guess  *pattern
	known  [8][16]*pattern // by digits before the decimal mark and size
}

// newScanner returns a scanner of the chunk's rows into y; it finds nothing in a
// table that has other columns than those of plain numbers.
func (t *table) newScanner(c *chunk, y [][]float64) *scanner {
	s := &scanner{point: t.point, sep: t.sep, eol: t.eol}
	if t.sep == t.point {
		return s
	}
	for k, col := range t.columns {
		if col.kind != numbers || col.from != nil {
			s.columns = nil
			break
		}
		s.columns = append(s.columns, scanColumn{y: y[k], shift: col.shift, time: col.time, stamps: &c.stamps[k], end: t.sep, guess: &noPattern})
	}
	return s
}

// read parses the rows at the start of text as long as they hold nothing but
// plain numbers, and returns how many bytes they take.
func (s *scanner) read(text []byte) int {
	u, k, begin := text, 0, len(text)
	for k < len(s.columns) {
		u, k, begin = s.guessed(u, k, begin)
		if k == len(s.columns) {
			break
		}
		c, blanks := &s.columns[k], 0
		for blanks < len(u) && u[blanks] == ' ' {
			blanks++
		}
		u = u[blanks:]
		if p := c.find(u, s.point); p != nil && (p != c.guess || blanks > 0) {
			c.guess = p
			continue
		}
		rest, ok := s.cell(u, k)
		if !ok {
			break
		}
		u = rest
		if k++; k == len(s.columns) {
			k, begin = 0, len(u)
			s.row++
		}
	}
	return len(text) - begin
}

// guessed parses cells from column k on as long as each is printed as its
// column guesses. It returns what it has left, the column of it, and how much
// there was left at the start of that row.
func (s *scanner) guessed(u []byte, k, begin int) ([]byte, int, int) {
	for {
		for ; k < len(s.columns); k++ {
			if len(u) < cellWindow {
				return u, k, begin
			}
			c, q := &s.columns[k], (*[cellWindow]byte)(u)
			p := c.guess
			signed, negative := sign(q[0])
			x := word8(q[signed:signed+8]) ^ p.text[0]
			if p.strays(0, x) {
				return u, k, begin
			}
			y, mant := x>>8, uint64(0)
			if p.size <= 8 {
				mant = eight((y ^ (x^y)&p.whole) << (p.lead & 63))
			} else {
				x1 := word8(q[signed+8:signed+16]) ^ p.text[1]
				if p.strays(1, x1) {
					return u, k, begin
				}
				y |= x1 << 56
				mant = eight((y^(x^y)&p.whole)<<(p.lead&63))*p.tens + eight(x1>>8&p.rest<<(p.lead1&63))
			}
			size, exp, scale := signed+p.size, p.exp, &p.scale
			if p.exponent {
				e, ok := c.exponent(q[size&15:])
				exp += e
				if !ok || uint(exp+maxScale) >= uint(len(scales)) {
					return u, k, begin
				}
				scale = &scales[exp+maxScale]
				size += 4
			}
			u = u[size:]
			v := math.Float64bits(float64(int64(mant)) * scale.mul / scale.div)
			c.y[s.row] = math.Float64frombits(v | negative<<63)
			if c.time {
				c.stamps.add(mant, exp)
			}
		}
		if s.more != 0 {
			if len(u) == 0 || u[0] != s.more {
				return u, k, begin
			}
			u = u[1:]
		}
		k, begin = 0, len(u)
		s.row++
	}
}

// cell parses the cell of column k at the start of u by single characters, and
// returns what stands behind its separator.
func (s *scanner) cell(u []byte, k int) (rest []byte, ok bool) {
	c := &s.columns[k]
	d, n := scanDecimal(u, s.point)
	if n == 0 {
		return nil, false
	}
	v := limits(d.float(u[:n], s.point, c.shift), c.shift)
	if v-v != 0 {
		return nil, false
	}
	if rest, ok = s.behind(u[n:], k); !ok {
		return nil, false
	}
	c.y[s.row] = v
	if c.time {
		c.stamps.add(d.mant, d.exp+c.shift)
	}
	return rest, true
}

// behind returns what follows the separator, or the end of the line, behind a
// cell of column k. The end of the line is what guessed expects from then on.
func (s *scanner) behind(u []byte, k int) (rest []byte, ok bool) {
	i, last := 0, k == len(s.columns)-1
	for i < len(u) && (u[i] == ' ' || (last && u[i] == s.sep)) {
		i++
	}
	if !last {
		if s.sep == ' ' {
			return u[i:], i > 0
		}
		return u[min(i+1, len(u)):], i < len(u) && u[i] == s.sep
	}
	if i < len(u) && u[i] == '\r' && s.eol == '\n' {
		i++
	}
	if i == len(u) {
		return nil, true
	}
	if u[i] != s.eol {
		return nil, false
	}
	switch i {
	case 0:
		s.columns[k].end, s.more = s.eol, 0
	case 1:
		s.columns[k].end, s.more = u[0], s.eol
	}
	return u[i+1:], true
}

// sign tells whether c is a sign, and whether it is a minus.
func sign(c byte) (signed int, negative uint64) {
	if (c-'+')&^('-'-'+') == 0 {
		signed = 1
	}
	if c == '-' {
		negative = 1
	}
	return signed, negative
}
