package reports

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// Waveforms are the traces of a shot in compact form: every sample near the edges,
// least and largest of each group of samples elsewhere. Values are whole numbers
// of 1/65534 of the trace's span.
type Waveforms struct {
	Capture string         `json:"capture"`
	Traces  []compactTrace `json:"traces"`
	Raw     []compactTrace `json:"raw"` // before correction, of the channels that differ
}

// compactTrace is one channel: value = Offset + Scale·code; the code noSample is none.
type compactTrace struct {
	Role   result.Role   `json:"role"`
	Unit   string        `json:"unit"`
	T0     result.Number `json:"t0"`
	Dt     result.Number `json:"dt"`
	N      int           `json:"n"`
	Scale  result.Number `json:"scale"`
	Offset result.Number `json:"offset"`
	Full   []stretch     `json:"full"`
	Every  int           `json:"every"` // samples in a group; 0 where Full holds all
	Least  string        `json:"least"` // of each group from the first sample on
	Most   string        `json:"most"`
}

// stretch is every sample from number At on: codes as 16-bit integers, the low
// byte first, in base 64.
type stretch struct {
	At    int    `json:"at"`
	Codes string `json:"codes"`
}

const (
	noSample   = math.MinInt16
	codeSteps  = 2*math.MaxInt16 + 0.0 // steps of the span
	fullUpTo   = 6000                  // samples that are kept whole
	packGroups = 1500                  // groups of a longer trace
	edgeLimit  = 4000                  // samples kept around an edge
)

// Compact returns the waveforms of a shot that still has its traces, nil of one
// that has none.
func Compact(s *result.Shot) *Waveforms {
	w := &Waveforms{Capture: s.Capture, Traces: []compactTrace{}, Raw: []compactTrace{}}
	around := wholeStretches(s)
	for _, r := range result.Roles {
		if t := s.Traces[r]; t != nil {
			w.Traces = append(w.Traces, packTrace(r, t, around))
		}
		if t := s.Raw[r]; t != nil {
			w.Raw = append(w.Raw, packTrace(r, t, around))
		}
	}
	if len(w.Traces) == 0 {
		return nil
	}
	return w
}

// waveformsPath is the slash path of a shot's waveforms in a result folder.
func waveformsPath(capture string) string {
	return waveformsDir + "/" + figurePath(capture, "") + ".json"
}

// ReadWaveforms reads the waveforms of a shot from a result folder, as one JSON
// object that can stand in HTML, under the name that the shot has where they go.
// Where there are none the error is fs.ErrNotExist.
func ReadWaveforms(dir, capture, as string) ([]byte, error) {
	path := filepath.Join(dir, filepath.FromSlash(waveformsPath(capture)))
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	// Text that is checked and not decoded, which would take most of a report's time.
	rest, ok := bytes.CutPrefix(text, waveformsHead(capture))
	if !ok || !json.Valid(text) || bytes.ContainsAny(text, "<>&") {
		return nil, fmt.Errorf("%s holds no waveforms of %q; expected what slewbook measure --out wrote", path, capture)
	}
	return append(waveformsHead(as), bytes.TrimSpace(rest)...), nil
}

// waveformsHead is how the waveforms of a capture begin as JSON.
func waveformsHead(capture string) []byte {
	name, err := json.Marshal(capture) // escapes <, > and &
	if err != nil {
		panic("reports: " + err.Error())
	}
	return append(append([]byte(`{"capture":`), name...), `,"traces":`...)
}

// wholeStretches are the stretches to keep whole: each measured window with three times its
// duration before and eight times after it, where the ringing is.
func wholeStretches(s *result.Shot) []waveform.Interval {
	var out []waveform.Interval
	for _, e := range s.Edges {
		if d := e.Window.Duration(); d > 0 {
			out = append(out, waveform.Interval{From: e.Window.From - 3*d, To: e.Window.To + 8*d})
		} else {
			out = append(out, waveform.Interval{From: e.T, To: e.T})
		}
	}
	return out
}

func packTrace(role result.Role, t *waveform.Trace, around []waveform.Interval) compactTrace {
	every, group := 0, len(t.Y)
	if len(t.Y) > fullUpTo {
		every = (len(t.Y) + packGroups - 1) / packGroups
		group = every
	}
	groups := each(slices.Collect(slices.Chunk(t.Y, max(group, 1))), finiteRange)
	low, high := math.Inf(1), math.Inf(-1)
	for _, g := range groups {
		low, high = min(low, g[0]), max(high, g[1])
	}
	if low > high {
		low, high = 0, 0
	}
	scale := (high - low) / codeSteps
	if scale == 0 {
		scale = 1
	}
	out := compactTrace{Role: role, Unit: role.Unit(), T0: result.Number(t.T0), Dt: result.Number(t.Dt), N: len(t.Y),
		Scale: result.Number(scale), Offset: result.Number((low + high) / 2), Full: []stretch{}}
	code := func(y float64) int16 {
		if y-y != 0 {
			return noSample
		}
		return int16(math.Round((y - (low+high)/2) / scale))
	}
	for _, s := range stretches(t, around) {
		all := make([]int16, 0, s[1]-s[0])
		for _, y := range t.Y[s[0]:s[1]] {
			all = append(all, code(y))
		}
		out.Full = append(out.Full, stretch{At: s[0], Codes: packCodes(all)})
	}
	if every > 0 {
		out.Every = every
		var least, most []int16
		for _, g := range groups {
			least, most = append(least, code(g[0])), append(most, code(g[1]))
		}
		out.Least, out.Most = packCodes(least), packCodes(most)
	}
	return out
}

// finiteRange returns the least and the largest of the finite values; +Inf and -Inf
// where there is none.
func finiteRange(y []float64) [2]float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range y {
		if v < low && v-v == 0 { // plain comparisons cost half of what min and max do
			low = v
		}
		if v > high && v-v == 0 {
			high = v
		}
	}
	return [2]float64{low, high}
}

// stretches are the numbers of the samples that are kept whole: all of a short
// trace, else those around the edges, joined where they overlap.
func stretches(t *waveform.Trace, around []waveform.Interval) [][2]int {
	n := len(t.Y)
	if n <= fullUpTo {
		return [][2]int{{0, n}}
	}
	var out [][2]int
	for _, w := range around {
		from, to := sampleAt(t, w.From), sampleAt(t, w.To)+2
		if over := to - from - edgeLimit; over > 0 {
			to -= over
		}
		if from = max(from, 0); from < min(to, n) {
			out = append(out, [2]int{from, min(to, n)})
		}
	}
	slices.SortFunc(out, func(a, b [2]int) int { return a[0] - b[0] })
	var joined [][2]int
	for _, s := range out {
		if k := len(joined) - 1; k >= 0 && s[0] <= joined[k][1] {
			joined[k][1] = max(joined[k][1], s[1])
		} else {
			joined = append(joined, s)
		}
	}
	return joined
}

func sampleAt(t *waveform.Trace, at float64) int { return int(math.Floor((at - t.T0) / t.Dt)) }

func packCodes(codes []int16) string {
	b := make([]byte, 0, 2*len(codes))
	for _, c := range codes {
		b = binary.LittleEndian.AppendUint16(b, uint16(c))
	}
	return base64.StdEncoding.EncodeToString(b)
}
