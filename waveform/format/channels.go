package format

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"

	"slewbook/waveform"
)

// channel is a column of samples with the column of its time stamps, -1 where
// there is none.
type channel struct {
	col, time     int
	name          string
	over, missing int // samples
}

// traces makes a trace of each column of samples.
func (t *table) traces(c *waveform.Capture, opt Options, r rows) *axisError {
	channels := t.channels(c, r)
	if len(channels) == 0 {
		return &axisError{-1, "no sample in any column", "at least one column with numbers", ""}
	}
	if len(channels) > 16 && r.n < len(channels) {
		return &axisError{-1, fmt.Sprintf("%d rows of %d columns: rows and columns seem to be exchanged", r.n, len(t.columns)), "a column for each channel", "export it so"}
	}
	t.nameChannels(c, channels)
	stated, starts := t.intervals(len(channels)), t.each(meansStart, "s", len(channels), math.NaN())
	if several := t.several(meansInterval, "s"); channels[0].time < 0 && len(several) > 1 && len(several) != len(channels) && slices.Min(several) != slices.Max(several) {
		return &axisError{-1, fmt.Sprintf("sample intervals from %s to %s in the header, and no time column", seconds(slices.Min(several)), seconds(slices.Max(several))),
			"one for all channels, or one for each", "export with time"}
	}
	var a axis
	var uneven [][]float64
	for i, ch := range channels {
		if i == 0 || channels[i-1].time != ch.time || stated[i] == stated[i] && stated[i] != stated[i-1] || starts[i] == starts[i] && starts[i] != starts[i-1] {
			var err *axisError
			if a, err = t.axisOf(ch.time, stated[i], opt, r); err != nil {
				return err
			}
			if ch.time < 0 && opt.Interval == 0 && starts[i] == starts[i] {
				a.t0 = starts[i]
			}
			c.Warnings = append(c.Warnings, a.warnings...)
		}
		y := r.y[ch.col]
		if ch.time >= 0 && a.rows < len(y) {
			if _, none := count(y[a.rows:]); none < len(y)-a.rows {
				return &axisError{a.rows, "a sample without a time stamp in column " + t.columns[ch.col].title(ch.col), "a time stamp for each sample", ""}
			}
			ch.missing -= len(y) - a.rows
			y = y[:a.rows]
		}
		c.Traces = append(c.Traces, &waveform.Trace{Name: ch.name, Unit: t.columns[ch.col].unit, T0: a.t0, Dt: a.dt, Y: a.spread(y)})
		c.Warnings = append(c.Warnings, sampleWarnings(ch, len(y))...)
		uneven = append(uneven, a.uneven)
	}
	if err := t.applyCodes(c, channels); err != nil {
		return err
	}
	if err := evenTraces(c, uneven); err != nil {
		return &axisError{-1, err.Error(), "time stamps that grow", ""}
	}
	t.ranges(c)
	t.peakDetect(c)
	return nil
}

// channels returns the columns of samples, and tells of those that hold none.
func (t *table) channels(c *waveform.Capture, r rows) []channel {
	var all []channel
	at := -1
	over, missing := t.countAll(r)
	for k, col := range t.columns {
		switch {
		case col.kind == words && r.varied[k]:
			c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.ChannelText, Channel: col.name,
				Text: "column " + col.title(k) + " holds words and was left out"})
			continue
		case col.kind != numbers:
			continue
		case col.time:
			if at < 0 || !sameStamps(r.y[at], r.y[k]) {
				at = k
			}
			continue
		case at < 0 && k == t.left && t.counts(k) && t.samples() > 1:
			continue // sample numbers
		}
		ch := channel{col: k, time: at, over: over[k], missing: missing[k]}
		if at < 0 {
			ch.time = t.firstTime()
		}
		if ch.missing < r.n {
			all = append(all, ch)
		} else if col.name != "" {
			c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.ChannelEmpty, Channel: col.name,
				Text: "column " + col.title(k) + " holds no sample and was left out"})
		}
	}
	return all
}

// countAll counts the samples over range and the missing ones of each column,
// side by side.
func (t *table) countAll(r rows) (over, missing []int) {
	over, missing = make([]int, len(t.columns)), make([]int, len(t.columns))
	if r.plain {
		return over, missing
	}
	var wg sync.WaitGroup
	for k, y := range r.y {
		wg.Go(func() { over[k], missing[k] = count(y) })
	}
	wg.Wait()
	return over, missing
}

// samples counts the columns of numbers.
func (t *table) samples() int {
	n := 0
	for _, c := range t.columns {
		if c.kind == numbers {
			n++
		}
	}
	return n
}

// sameStamps tells whether two columns of stamps are the same.
func sameStamps(a, b []float64) bool {
	for k := range a {
		if a[k] != b[k] && (a[k] == a[k] || b[k] == b[k]) {
			return false
		}
	}
	return true
}

var quantityName = regexp.MustCompile(`(?i)^(voltage|volts?|current|level|ampl|amplitude|value|values|y|data|signal|spannung|strom)$`)
var quantitySuffix = regexp.MustCompile(`(?i)^[ _-]*(voltage|current|volts?|amplitude|level|data|value)?$`)

// expression matches the name of a computed channel that is its formula:
// "MATH<CH1*CH2>". The name is the word with its number, the formula a field of
// the header.
var expression = regexp.MustCompile(`(?i)^(math|func|f|m)<(.+)>$`)

// nameChannels names the channels as the header does, as the preamble where the
// header is silent or calls all of them "Voltage", and else by number. A name
// stands for one trace.
func (t *table) nameChannels(c *waveform.Capture, channels []channel) {
	given := gather(t.fields, meansSource)
	if len(given) != len(channels) || !distinct(given) {
		given = nil
	}
	plain := !t.named
	for i := range channels {
		name := t.columns[channels[i].col].name
		plain = plain || (given != nil && (name == "" || quantityName.MatchString(name)))
	}
	uses := map[string]int{}
	formulas := 0
	for i := range channels {
		ch := &channels[i]
		ch.name = t.columns[ch.col].name
		if given != nil {
			rest, ok := strings.CutPrefix(ch.name, given[i])
			if plain || (ok && quantitySuffix.MatchString(rest)) {
				ch.name = given[i]
			}
		}
		if m := expression.FindStringSubmatch(ch.name); m != nil {
			formulas++
			ch.name = fmt.Sprint(m[1], formulas)
			c.Header = append(c.Header, waveform.Field{Key: ch.name, Value: m[2]})
		}
		if ch.name == "" {
			ch.name = fmt.Sprint(i + 1)
		}
		if uses[ch.name]++; uses[ch.name] > 1 {
			ch.name = fmt.Sprintf("%s (column %d)", ch.name, ch.col+1)
		}
	}
	if t.named || given != nil || len(channels) == 1 {
		return // without units the names still tell what a channel is; a single one is beyond doubt
	}
	c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.NoNames, Text: "the file does not name its channels; they are numbered"})
	for _, ch := range channels {
		if t.columns[ch.col].unit != "" {
			return
		}
	}
	c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.NoUnits, Text: "the file gives no units; samples were taken as printed, time as seconds"})
}

// sampleWarnings tells of samples that hold no number.
func sampleWarnings(ch channel, n int) []waveform.Warning {
	var w []waveform.Warning
	if ch.over > 0 {
		w = append(w, waveform.Warning{Code: waveform.OverRange, Channel: ch.name,
			Text: fmt.Sprintf("%d of %d samples of %s are over range", ch.over, n, ch.name)})
	}
	if ch.missing > 0 {
		w = append(w, waveform.Warning{Code: waveform.MissingSamples, Channel: ch.name,
			Text: fmt.Sprintf("%d of %d samples of %s are missing", ch.missing, n, ch.name)})
	}
	return w
}

var (
	twinName    = regexp.MustCompile(`(?i)^(.+?)[ _(-]*(peak[ _-]?detect|pk[ _-]?detect|envelope|min(imum)?|max(imum)?|low(est)?|high(est)?)\)?$`)
	twinPrefix  = regexp.MustCompile(`(?i)^(?:min|max|minimum|maximum|lowest|highest)[ _(-]+(.+?)\)?$`)
	peakDetects = regexp.MustCompile(`(?i)^(peak[ _-]?det(ect)?(ion)?|envelope|min[ _/-]?max)$`)
)

// twinOf returns the name of the channel whose lowest or highest values a trace
// holds, "" if it is named for none.
func twinOf(name string) string {
	for _, re := range []*regexp.Regexp{twinName, twinPrefix} {
		if m := re.FindStringSubmatch(name); m != nil {
			return m[1]
		}
	}
	return ""
}

// peakDetect warns of channels that stand twice, with their lowest and highest
// values, and of records that are said to be of that mode: of two values at a
// time neither is a sample to integrate.
func (t *table) peakDetect(c *waveform.Capture) {
	for _, f := range t.fields {
		for _, v := range f.values {
			if peakDetects.MatchString(v) {
				c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.PeakDetect,
					Text: fmt.Sprintf("the header says %s: %s, so that the samples are lowest and highest values; no energy can be read from them", f.key, v)})
				return
			}
		}
	}
	for _, tr := range c.Traces {
		of := twinOf(tr.Name)
		if of == "" {
			continue
		}
		for _, other := range c.Traces {
			if other == tr || len(other.Y) != len(tr.Y) || (other.Name != of && twinOf(other.Name) != of) || !ordered(tr.Y, other.Y) {
				continue
			}
			c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.PeakDetect, Channel: other.Name,
				Text: fmt.Sprintf("%s and %s are the two values of a peak-detect record; no energy can be read from either", tr.Name, other.Name)})
			return
		}
	}
}

// ordered tells whether one of the two is never above the other.
func ordered(a, b []float64) bool {
	below, above := true, true
	for k := range a {
		below = below && !(a[k] > b[k])
		above = above && !(a[k] < b[k])
	}
	return below || above
}
