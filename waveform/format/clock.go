package format

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"slewbook/waveform"
)

// instant is a time stamp that a float64 cannot hold: whole seconds, and the
// femtoseconds behind them.
type instant struct {
	sec, fs int64
}

// since returns the time from o to i [s].
func (i instant) since(o instant) float64 {
	return float64(i.sec-o.sec) + float64(i.fs-o.fs)/1e15
}

// onDayOf returns the time of day i on the day of o, or on the next where it
// would lie half a day and more before o: midnight was between them.
func (i instant) onDayOf(o instant) instant {
	const day = 86400
	if i.sec < o.sec-day/2 {
		i.sec += day
	}
	return i
}

// clockTime matches the time of a day, which a date may stand before:
// "10:23:11.5", "2024-01-05T10:23:11,000000800Z", "5.1.2024 10:23:11 PM", and
// with two numbers only minutes and seconds, "23:11.5".
var clockTime = regexp.MustCompile(`(?i)^(?:[^:]*[0-9a-z.][ T]+)??(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2})(?:[.,](\d{1,15}))?\s*([AP]M)?\s*(?:Z|UTC|[+-]\d\d:?\d\d)?$`)

// calendarDay matches a date by itself.
var calendarDay = regexp.MustCompile(`(?i)^\d{1,4}[-/.]([a-z]{3}|\d{1,2})[-/.]\d{1,4}$`)

// clock reads the time of day in a cell; last is the power of ten of its last
// digit. The date is passed over: onDayOf tells when a day has passed.
func clock(cell string) (at instant, last int, ok bool) {
	if strings.IndexByte(cell, ':') < 0 || len(cell) > 64 {
		return at, 0, false
	}
	m := clockTime.FindStringSubmatch(cell)
	if m == nil || (m[1] == "" && m[4] == "") { // "10:23" is as likely a ratio
		return at, 0, false
	}
	h, _ := strconv.ParseInt("0"+m[1], 10, 64)
	min, _ := strconv.ParseInt(m[2], 10, 64)
	s, _ := strconv.ParseInt(m[3], 10, 64)
	if half := strings.ToUpper(m[5]); half != "" {
		if h %= 12; half == "PM" {
			h += 12
		}
	}
	fs, _ := strconv.ParseInt((m[4] + "000000000000000")[:15], 10, 64)
	return instant{3600*h + 60*min + s, fs}, -len(m[4]), min < 60 && s <= 60
}

// isStamp tells whether the cell can be a time stamp.
func (d dialect) isStamp(cell string) bool {
	_, _, ok := clock(cell)
	return ok || d.isNumber(cell)
}

// since reads a stamp and returns its time from the first [s], a time of day or
// a number of seconds times ten to the shift.
func (d dialect) since(first instant, cell []byte, shift int) (t float64, last int, ok bool) {
	at, last, ok := clock(string(cell))
	if ok {
		at = at.onDayOf(first)
	} else if at, last, ok = d.instant(cell, shift); !ok {
		return 0, 0, false
	}
	return at.since(first), last, true
}

// instant reads a number of seconds times ten to the shift, to the last digit.
func (d dialect) instant(cell []byte, shift int) (at instant, last int, ok bool) {
	num, n := scanDecimal(cell, d.point)
	exp := num.exp + shift
	if n == 0 || n != len(cell) || num.digits > maxDigits || num.mant > math.MaxInt64 || exp < -18 || exp > 18 || num.digits+exp > 18 {
		return at, 0, false
	}
	mant, sign := int64(num.mant), int64(1)
	if num.neg {
		sign = -1
	}
	if exp >= 0 {
		return instant{sec: sign * mant * int64(pow10[exp])}, exp, true
	}
	one := int64(pow10[-exp])
	at = instant{sign * (mant / one), sign * (mant % one)}
	for k := -exp; k < 15; k++ {
		at.fs *= 10
	}
	for k := -exp; k > 15; k-- {
		at.fs /= 10
	}
	return at, exp, true
}

// readClocks makes the column that tells the time of day the time, if no other
// does so, and leaves dates beside it out.
func (t *table) readClocks() {
	at := -1
	for k := t.left; k < len(t.columns); k++ {
		c := &t.columns[k]
		if c.kind != numbers || len(c.cells) == 0 {
			continue
		}
		if _, _, ok := clock(c.cells[0]); !ok {
			continue
		}
		if c.kind = aside; at < 0 {
			at = k
		}
	}
	if at < 0 {
		return
	}
	for k := range t.columns {
		c := &t.columns[k]
		if len(c.cells) > 0 && (calendarDay.MatchString(c.cells[0]) || dayName.MatchString(c.name) && k != at) {
			c.kind = aside
		}
		if c.kind == numbers && (c.unit == "s" || t.named && timeLike(c.name)) {
			return // seconds beside the time of day
		}
	}
	c := &t.columns[at]
	c.kind, c.unit, c.shift = numbers, "s", 0
}

var dayName = regexp.MustCompile(`(?i)^(date|datum|day|tag|jour|fecha)$`)

// listsEvents tells whether the rows start with a time of day but are a few, or
// stand beside words, as those of a log or a list of triggers.
func (b block) listsEvents(sep byte) bool {
	if _, _, ok := clock(b.columns[b.left].cells[0]); !ok {
		return false
	}
	for k, c := range b.columns {
		if c.kind == words && (k < b.left || sep == ' ') && !calendarDay.MatchString(c.cells[0]) {
			return true
		}
	}
	return b.rows < 8
}

// relate makes a time column count from its first stamp where a float64 could
// not tell its samples apart: times of day, and seconds since some year.
func (t *table) relate(k int) {
	c := &t.columns[k]
	if len(c.cells) < 2 {
		return
	}
	first, _, isClock := clock(c.cells[0])
	if !isClock {
		var ok bool
		if first, _, ok = t.instant([]byte(c.cells[0]), c.shift); !ok {
			return
		}
	}
	last, _, ok := t.since(first, []byte(c.cells[len(c.cells)-1]), c.shift)
	if !ok {
		return
	}
	// A record that starts this late [s] is one by the calendar, whatever its
	// steps, which stamps that repeat do not tell.
	const calendar = 1000
	size := math.Abs(first.since(instant{}))
	step := last / float64(len(c.cells)-1)
	if isClock || step > 0 && math.Nextafter(size, math.Inf(1))-size > 1e-4*step || step == 0 && size > calendar {
		c.from = &first
	}
}

// firstStamp returns the stamp that the times of the samples count from, as a
// field.
func (t *table) firstStamp() []waveform.Field {
	for k, c := range t.columns {
		if c.time && c.from != nil {
			return []waveform.Field{{Key: "time counts from", Value: fmt.Sprintf("%s in column %s", c.cells[0], c.title(k))}}
		}
	}
	return nil
}
