package viewer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform/unit"
)

// basis tells what the numbers rest on, so that they can be held against others and
// found again: definitions, what was taken out of the channels, what was assumed, the
// programs and settings, the captures and their hashes.
type basis struct {
	Definitions []definition
	Recordings  []recording
	Corrections []correction
	Assumed     []counted
	Runs        []run
	Files       []file
}

// definition is how a column was read, in so many shots.
type definition struct{ Symbol, Name, Text, Source, Shots string }

// recording is how a channel was recorded, with the least and largest number of samples.
type recording struct{ Channel, Trace, Dt, Points, Bandwidth, Bits, Range, Calibrated, Shots string }

// correction is of one channel and kind, with the least and largest value.
type correction struct{ Channel, Kind, From, To, Shots string }

type counted struct{ Text, Shots string }

// run is a program with its settings.
type run struct{ Version, Settings, Bench, Shots string }

type file struct{ Capture, Name, SHA256 string }

// apart separates what is counted together.
const apart = "\x00"

// tally counts in how many shots each text is, in the order of the first.
func tally(shots []*result.Shot, texts func(*result.Shot) []string) []counted {
	at := map[string]int{}
	var out []counted
	var count []int
	for _, s := range shots {
		for _, text := range texts(s) {
			k, ok := at[text]
			if !ok {
				k = len(out)
				at[text] = k
				out, count = append(out, counted{Text: text}), append(count, 0)
			}
			count[k]++
		}
	}
	for k, n := range count {
		out[k].Shots = share(n, len(shots))
	}
	return out
}

// share is a count of all.
func share(n, all int) string {
	if n == all {
		return "all"
	}
	return fmt.Sprint(n)
}

func newBasis(shots []*result.Shot, columns []column, device *result.Shot) basis {
	var b basis
	measured := slices.DeleteFunc(slices.Clone(shots), func(s *result.Shot) bool { return s.Err != nil })
	for _, c := range columns {
		b.Definitions = append(b.Definitions, definitions(measured, c, device)...)
	}
	b.Recordings = recordings(measured, device)
	b.Corrections = corrections(measured, device)
	b.Assumed = assumed(measured)
	for _, c := range tally(shots, func(s *result.Shot) []string { return []string{s.Version + apart + s.Settings + apart + s.Bench} }) {
		words := strings.Split(c.Text, apart)
		b.Runs = append(b.Runs, run{words[0], words[1], cmp.Or(words[2], "not stated"), c.Shots})
	}
	for _, s := range shots {
		for k, name := range s.Files {
			f := file{Capture: s.Capture, Name: name}
			if k < len(s.SHA256) { // not of one that could not be read
				f.SHA256 = s.SHA256[k]
			}
			b.Files = append(b.Files, f)
		}
	}
	return b
}

// definitions are those that a column was read under.
func definitions(measured []*result.Shot, c column, device *result.Shot) []definition {
	var read []*result.Shot
	for _, s := range measured {
		if m := s.Quantity(c.Key); m != nil && !math.IsNaN(m.Value) {
			read = append(read, s)
		}
	}
	var out []definition
	for _, t := range tally(read, func(s *result.Shot) []string { return []string{s.Quantity(c.Key).Definition} }) {
		d := definition{Symbol: c.Symbol, Name: t.Text, Text: c.Help, Shots: t.Shots}
		if len(read) < len(measured) && t.Shots == "all" {
			d.Shots = fmt.Sprint(len(read))
		}
		name, _, _ := strings.Cut(t.Text, ": ")
		known, err := result.FindDefinition(c.Key, name)
		if err != nil { // the default is told by what it does
			known, err = result.FindDefinition(c.Key, result.Default(c.Key, device.IGBT()))
		}
		if err == nil {
			d.Source = reports.Source(known.Source, known.Sure)
			if known.Text != t.Text {
				d.Text = known.Text
			}
		}
		out = append(out, d)
	}
	return out
}

// recordings tell with what was measured, as captures and set-up state it.
func recordings(measured []*result.Shot, device *result.Shot) []recording {
	points := map[string][2]int{}
	given := func(x float64, base string) string {
		if math.IsNaN(x) {
			return "not stated"
		}
		return conditionText(result.Condition{Value: x, Unit: base})
	}
	lines := tally(measured, func(s *result.Shot) []string {
		var out []string
		for _, c := range s.Channels {
			bits := "not stated"
			if c.Bits > 0 {
				bits = strconv.Itoa(c.Bits)
			}
			calibrated := cmp.Or(c.Calibrated, "not stated")
			if c.Due != "" {
				calibrated += ", due " + c.Due
			}
			text := strings.Join([]string{reports.RoleSymbol(c.Role, device), c.Trace, unit.Format(c.Dt, "s", 3), given(c.Bandwidth, "Hz"), bits, given(c.Range, c.Role.Unit()), calibrated}, apart)
			if slices.Contains(out, text) { // the two captures of a joined shot
				continue
			}
			out = append(out, text)
			span, ok := points[text]
			if !ok {
				span = [2]int{c.Points, c.Points}
			}
			points[text] = [2]int{min(span[0], c.Points), max(span[1], c.Points)}
		}
		return out
	})
	var out []recording
	for _, l := range lines {
		w, span := strings.Split(l.Text, apart), points[l.Text]
		r := recording{w[0], w[1], w[2], strconv.Itoa(span[0]), w[3], w[4], w[5], w[6], l.Shots}
		if span[1] > span[0] {
			r.Points += " to " + strconv.Itoa(span[1])
		}
		out = append(out, r)
	}
	return out
}

// assumed lists what was assumed, once where only figures differ: those of the first
// shot stand for all.
func assumed(measured []*result.Shot) []counted {
	var out []counted
	for _, a := range reports.Assumptions(measured) {
		c := counted{Text: a.Text, Shots: share(a.Shots, len(measured))}
		if a.Vary {
			c.Shots += ", with other figures in some"
		}
		out = append(out, c)
	}
	return out
}

// corrections are what was taken out of each channel.
func corrections(measured []*result.Shot, device *result.Shot) []correction {
	type kind struct {
		channel result.Role
		kind    string
	}
	var order []kind
	all := map[kind][]result.Correction{}
	for _, s := range measured {
		for _, c := range s.Corrections {
			k := kind{c.Channel, c.Kind}
			if all[k] == nil {
				order = append(order, k)
			}
			all[k] = append(all[k], c)
		}
	}
	var out []correction
	for _, k := range order {
		list := all[k]
		value := func(c result.Correction) float64 { return c.Value }
		least := slices.MinFunc(list, func(a, b result.Correction) int { return cmp.Compare(value(a), value(b)) })
		most := slices.MaxFunc(list, func(a, b result.Correction) int { return cmp.Compare(value(a), value(b)) })
		out = append(out, correction{Channel: reports.RoleSymbol(k.channel, device), Kind: k.kind,
			From: reports.Num(least.Value, math.NaN(), least.Unit), To: reports.Num(most.Value, math.NaN(), most.Unit), Shots: share(len(list), len(measured))})
	}
	return out
}
