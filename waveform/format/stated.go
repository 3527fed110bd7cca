package format

import (
	"math"
	"slices"
	"strings"

	"slewbook/waveform/unit"
)

// meant is what a field of the preamble says, whatever words it uses.
type meant string

const (
	meansInterval   meant = "interval"   // between samples
	meansRate       meant = "rate"       // of samples
	meansStart      meant = "start"      // time of the first sample
	meansTrigger    meant = "trigger"    // number of the sample at time zero
	meansLength     meant = "length"     // samples in the record
	meansSegments   meant = "segments"   // in the file
	meansUnits      meant = "units"      // of the samples
	meansTimeUnits  meant = "time units" // of the stamps
	meansSource     meant = "source"     // channel names
	meansMultiplier meant = "multiplier" // of converter codes
	meansCodeOffset meant = "offset"     // in codes, taken off first
	meansZero       meant = "zero"       // in units, added last
	meansFormat     meant = "format"     // codes or values
	meansScale      meant = "scale"      // of the screen, a division
	meansPosition   meant = "position"   // on the screen, in divisions
	meansDivisions  meant = "divisions"  // of the screen
)

// keys are the letters of keys with one meaning.
var keyWords = map[meant]string{
	meansInterval: "interval timestep timeincrement timeincr increment incr xincrement xincr xinc xstep deltat deltatime deltax dt dx tinc tincr ts hresolution " +
		"horizontalinterval horizontalresolution horizontalincrement timeresolution timepersample timeperpoint secondspersample stepsize timedelta " +
		"timebetweensamples pointspacing dts tinterval abtastintervall",
	meansRate:       "rate fs samplespersecond acquisitionrate digitizerrate abtastrate",
	meansStart:      "xorigin xorig xorg xzero xstart starttime timestart tstart tzero timeorigin timezero firstsampletime timeoffirstsample firstpointtime horizontalstart origin begin",
	meansTrigger:    "zeroindex triggerpoint triggersample triggerindex triggerposition pretriggersamples presamples",
	meansLength:     "recordlength memorylength numberofdatapoints numberofpoints datapoints points samples nrofsamples noofsamples numberofsamples samplecount pointcount recordsize nopoints numpoints npoints nsamples",
	meansSegments:   "segments numberofsegments nrofsegments noofsegments segmentcount frames numberofframes framecount numsegments",
	meansUnits:      "verticalunits verticalunit yunits yunit units unit unity unitsy channelunits channelunit dataunits valueunits einheit einheiten",
	meansTimeUnits:  "horizontalunits horizontalunit xunits xunit unitx timeunits timeunit timebaseunits timescaleunits",
	meansSource:     "source sources channel channels channeldata channelname channelnames trace traces waveform waveforms label labels tracename tracenames signal signals signalname signalnames name names",
	meansMultiplier: "ymultiplier ymult yfactor codescale voltspercode unitspercode unitspercount voltspercount verticalmultiplier multiplier scalefactor yscalefactor lsb lsbsize yincrement yincr codestep codewidth",
	meansCodeOffset: "yoffset yoff codeoffset offsetcodes zerocode codezero yreference yref",
	meansZero:       "yzero yorigin yorig yorg zerolevel valueatzero",
	meansFormat:     "pointformat ptfmt dataformat dataencoding samplekind valuekind datakind datatype sampleformat",
	meansScale:      "verticalscale yscale voltsperdivision voltsperdiv unitsperdivision",
	meansPosition:   "verticalposition yposition",
	meansDivisions:  "verticaldivisions divisions ydivisions",
}

// meaning returns what a key means.
func meaning(key string) (meant, bool) {
	l := letters(key)
	if strings.EqualFold(strings.TrimSpace(key), "t0") {
		return meansStart, true
	}
	if l == "" || len(l) > 40 || strings.HasPrefix(key, originalKey) {
		return "", false
	}
	if strings.Contains(l, "sampl") {
		switch {
		case containsAny(l, "interval", "period", "spacing", "step", "sampletime", "samplingtime"):
			return meansInterval, true
		case containsAny(l, "rate", "freq", "persecond", "clock"):
			return meansRate, true
		}
	}
	for _, m := range []meant{meansInterval, meansRate, meansStart, meansTrigger, meansLength, meansSegments, meansUnits, meansTimeUnits, meansSource,
		meansMultiplier, meansCodeOffset, meansZero, meansFormat, meansScale, meansPosition, meansDivisions} {
		if containsWord(keyWords[m], l) {
			return m, true
		}
	}
	switch l {
	case "timeinterval":
		return meansInterval, true
	case "start":
		return meansStart, true
	}
	return "", false
}

func containsAny(s string, parts ...string) bool {
	for _, p := range parts {
		if strings.Contains(s, p) {
			return true
		}
	}
	return false
}

// containsWord tells whether the blank-separated list holds the word.
func containsWord(list, word string) bool {
	return strings.Contains(" "+list+" ", " "+word+" ")
}

// find returns the first field of that meaning that has a value.
func find(fields []field, m meant) (field, bool) {
	for _, f := range fields {
		if got, ok := meaning(f.key); ok && got == m && len(f.values) > 0 {
			return f, true
		}
	}
	return field{}, false
}

// gather returns the values of all fields of that meaning, in order.
func gather(fields []field, m meant) []string {
	var all []string
	for _, f := range fields {
		if got, ok := meaning(f.key); ok && got == m {
			all = append(all, f.values...)
		}
	}
	return all
}

// interval returns the sample interval that the preamble states, in seconds,
// NaN if it states none; a sample rate serves as well.
func (d dialect) interval(fields []field) float64 {
	if f, ok := find(fields, meansInterval); ok {
		if dt, ok := d.stated(f, "s"); ok && dt > 0 {
			return dt
		}
	}
	if f, ok := find(fields, meansRate); ok {
		if rate, ok := d.stated(f, "Hz"); ok && rate > 0 {
			return 1 / rate
		}
	}
	return math.NaN()
}

// several returns the numbers of that meaning in the base unit, of all fields
// with the key of the first.
func (t *table) several(m meant, base string) []float64 {
	first, ok := find(t.fields, m)
	if !ok {
		return nil
	}
	var all []float64
	for _, f := range t.fields {
		if letters(f.key) != letters(first.key) {
			continue
		}
		for _, v := range f.values {
			if x, ok := t.stated(field{key: f.key, values: []string{v}}, base); ok { // else a unit beside it
				all = append(all, x)
			}
		}
	}
	return all
}

// each returns the numbers of that meaning for n channels: as many as the
// preamble gives, if it gives one for each; else what is given for all.
func (t *table) each(m meant, base string, n int, all float64) []float64 {
	if several := t.several(m, base); len(several) == n && n > 1 {
		return several
	}
	return slices.Repeat([]float64{all}, n)
}

// intervals returns the sample interval of each of n channels that the preamble
// states [s], NaN where it states none.
func (t *table) intervals(n int) []float64 {
	stated := t.each(meansInterval, "s", n, t.interval(t.fields))
	if _, ok := find(t.fields, meansInterval); ok {
		return stated
	}
	for i, rate := range t.each(meansRate, "Hz", n, math.NaN()) {
		if rate > 0 {
			stated[i] = 1 / rate
		}
	}
	return stated
}

// origin returns the time of the first sample that the preamble states, 0 if it
// gives none.
func (d dialect) origin(fields []field, dt float64) float64 {
	for _, f := range fields {
		if m, ok := meaning(f.key); ok && m == meansStart && len(f.values) > 0 && letters(f.key) != "start" {
			if t, ok := d.stated(f, "s"); ok {
				return t
			}
		}
	}
	if f, ok := find(fields, meansTrigger); ok {
		if k, ok := d.stated(f, ""); ok {
			return -k * dt
		}
	}
	if f, ok := find(fields, meansStart); ok {
		if t, ok := d.stated(f, "s"); ok {
			return t
		}
	}
	return 0
}

// stated reads a field's number. Its unit may stand behind it, in the next
// cell, or in parentheses in the key; without one it is the base unit.
func (d dialect) stated(f field, base string) (float64, bool) {
	if len(f.values) == 0 {
		return 0, false
	}
	value := f.values[0]
	point := d.point
	if !strings.ContainsRune(value, rune(point)) && d.sep != ',' && strings.Count(value, ",") == 1 {
		point = ','
	} else if point == ',' && !strings.Contains(value, ",") {
		point = '.'
	}
	if d := (dialect{point: point, group: ','}); point == '.' {
		if plain, ok := d.ungroup([]byte(value)); ok {
			value = string(plain)
		}
	}
	num, n := scanDecimal([]byte(value), point)
	if n == 0 {
		return 0, false
	}
	symbol := strings.TrimSpace(value[n:])
	if symbol == "" && len(f.values) == 2 && !d.isNumber(f.values[1]) {
		symbol = f.values[1]
	}
	if _, inKey := splitUnit(strings.TrimRight(f.key, " :=")); symbol == "" {
		symbol = inKey
	}
	if low := strings.ToLower(symbol); strings.HasSuffix(low, "sps") {
		symbol = symbol[:len(symbol)-3] + "S/s"
	}
	shift := 0
	if base != "" && symbol != "" {
		exp, got, ok := unit.Exponent(symbol)
		if !ok || got != base {
			return 0, false
		}
		shift = exp
	}
	return num.float([]byte(value[:n]), point, shift), true
}

// length returns the number of samples that the preamble states, 0 if none.
func (d dialect) length(fields []field) float64 {
	if f, ok := find(fields, meansLength); ok {
		if n, ok := d.stated(f, ""); ok && n > 0 {
			return n
		}
	}
	return 0
}
