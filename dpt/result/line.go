package result

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"

	"slewbook/waveform"
)

// The types below are the machine-readable form of a shot, for writing and for
// reading alike: SI base units, null for what is not known.

type jsonShot struct {
	Capture     string           `json:"capture"`
	Files       []string         `json:"files"`
	Conditions  Object           `json:"conditions"`
	Units       Object           `json:"condition_units,omitempty"` // of the conditions that have one
	Schema      int              `json:"schema"`
	Version     string           `json:"version"`
	SHA256      []string         `json:"sha256"`
	Settings    string           `json:"settings"`
	Bench       string           `json:"bench,omitempty"`
	Channels    []jsonRecording  `json:"channels,omitempty"`
	Events      []jsonEvent      `json:"events"`
	Quantities  Object           `json:"quantities"`
	Phases      []jsonPhase      `json:"phases,omitempty"` // of edges switched in stages
	Inputs      Object           `json:"inputs,omitempty"` // what the budgets name, with what shares its error
	Corrections []jsonCorrection `json:"corrections"`
	Assumed     []string         `json:"assumed"`
	Warnings    []JSONWarning    `json:"warnings"`
	Error       *string          `json:"error"`
}

type jsonRecording struct {
	Role       Role   `json:"role"`
	Trace      string `json:"trace"`
	Points     int    `json:"points"`
	Dt         Number `json:"dt"`
	Bandwidth  Number `json:"bandwidth"`
	Bits       *int   `json:"bits"`
	Range      Number `json:"range"`
	Calibrated string `json:"calibrated,omitempty"`
	Due        string `json:"due,omitempty"`
}

type jsonEvent struct {
	Edge    Edge   `json:"edge"`
	Pulse   *int   `json:"pulse"`
	T       Number `json:"t"`
	Basis   string `json:"basis"`
	Capture string `json:"capture,omitempty"`
}

type jsonQuantity struct {
	Value      Number        `json:"value"`
	Unit       string        `json:"unit"`
	U          Number        `json:"u"`
	Dominant   string        `json:"dominant,omitempty"`  // what most of u comes from
	Corrected  Number        `json:"corrected,omitempty"` // what was added to what was read, for bandwidth
	Budget     Object        `json:"budget,omitempty"`    // effect of each input on the value, signed, root of the sum of squares u [Unit]
	From       Number        `json:"from"`
	To         Number        `json:"to"`
	Definition string        `json:"definition"`
	PerRing    Number        `json:"per_ring,omitempty"`  // of energies: change where the window ends a period of the ringing later [J]
	PerDelay   Number        `json:"per_delay,omitempty"` // of energies: change with a lag of the current [J/s]
	Suggested  *Number       `json:"suggested,omitempty"` // of delays: a doubtful estimate [s]
	Applied    *Number       `json:"applied,omitempty"`   // of delays: what was removed [s]
	Basis      string        `json:"basis,omitempty"`     // of delays: what a sure one rests on
	MonteCarlo *jsonTrials   `json:"monte_carlo,omitempty"`
	Warnings   []JSONWarning `json:"warnings"`
}

type jsonTrials struct {
	Seed      uint64 `json:"seed"`
	Trials    int    `json:"trials"`
	Lost      int    `json:"lost"`
	Settled   bool   `json:"settled"`
	Mean      Number `json:"mean"`
	U         Number `json:"u"`
	Low       Number `json:"low"`
	High      Number `json:"high"`
	ShortLow  Number `json:"shortest_low"`
	ShortHigh Number `json:"shortest_high"`
	Tolerance Number `json:"tolerance"`
	Agrees    bool   `json:"agrees"`
}

type jsonCorrection struct {
	Channel Role   `json:"channel"`
	Kind    string `json:"kind"`
	Value   Number `json:"value"`
	Unit    string `json:"unit"`
	From    Number `json:"from"`
	To      Number `json:"to"`
	EOn     Number `json:"e_on"`
	EOff    Number `json:"e_off"`
	Text    string `json:"text"`
}

// JSONWarning is the machine-readable form of a warning.
type JSONWarning struct {
	Code    waveform.Code `json:"code"`
	Channel string        `json:"channel"`
	From    Number        `json:"from"`
	To      Number        `json:"to"`
	Text    string        `json:"text"`
}

// NewJSONWarning returns the machine-readable form of a warning.
func NewJSONWarning(w waveform.Warning) JSONWarning {
	return JSONWarning{w.Code, w.Channel, Number(w.Over.From), Number(w.Over.To), w.Text}
}

func (w JSONWarning) warning() waveform.Warning {
	return waveform.Warning{Code: w.Code, Channel: w.Channel, Over: interval(w.From, w.To), Text: w.Text}
}

func interval(from, to Number) waveform.Interval {
	return waveform.Interval{From: float64(from), To: float64(to)}
}

// MarshalJSON writes a shot: quantities in their order, shortest numbers that
// read back to the same bits. Traces and marks are not written.
func (s *Shot) MarshalJSON() ([]byte, error) {
	line := jsonShot{
		Capture:     s.Capture,
		Files:       list(s.Files),
		Conditions:  each(s.Conditions, Condition.member),
		Schema:      Schema,
		Version:     s.Version,
		SHA256:      list(s.SHA256),
		Settings:    s.Settings,
		Bench:       s.Bench,
		Channels:    each(s.Channels, recordingJSON),
		Events:      each(s.Events, eventJSON),
		Quantities:  each(s.Quantities, func(m Measurement) Member { return Member{m.Key, m} }),
		Phases:      each(s.Phases, phaseJSON),
		Inputs:      s.inputs(),
		Corrections: each(s.Corrections, correctionJSON),
		Assumed:     list(s.Assumed),
		Warnings:    each(s.Warnings, NewJSONWarning),
	}
	for _, c := range s.Conditions {
		if c.Unit != "" {
			line.Units = append(line.Units, Member{c.Key, c.Unit})
		}
	}
	if s.Err != nil {
		text := s.Err.Error()
		line.Error = &text
	}
	return Encode(line)
}

// UnmarshalJSON reads what MarshalJSON has written.
func (s *Shot) UnmarshalJSON(text []byte) error {
	var line jsonShot
	if err := json.Unmarshal(text, &line); err != nil {
		return err
	}
	if line.Schema != Schema {
		return fmt.Errorf("%s: schema %d; this version reads %d: measure the captures again", line.Capture, line.Schema, Schema)
	}
	*s = Shot{Capture: line.Capture, Files: line.Files, SHA256: line.SHA256, Version: line.Version, Settings: line.Settings, Bench: line.Bench,
		Channels: each(line.Channels, jsonRecording.recording), Events: each(line.Events, jsonEvent.event), Corrections: each(line.Corrections, jsonCorrection.correction), Assumed: line.Assumed,
		Warnings: each(line.Warnings, JSONWarning.warning)}
	if line.Error != nil {
		s.Err = errors.New(*line.Error)
	}
	units := map[string]string{}
	for _, m := range line.Units {
		var unit string
		if err := json.Unmarshal(m.Value.(json.RawMessage), &unit); err != nil {
			return fmt.Errorf("unit of condition %s: %w", m.Key, err)
		}
		units[m.Key] = unit
	}
	for _, m := range line.Conditions {
		c, err := condition(m)
		if err != nil {
			return err
		}
		c.Unit = units[m.Key]
		s.Conditions = append(s.Conditions, c)
	}
	scopes := map[string]Scope{}
	for _, m := range line.Inputs {
		var scope Scope
		if err := json.Unmarshal(m.Value.(json.RawMessage), &scope); err != nil {
			return fmt.Errorf("input %q: %w", m.Key, err)
		}
		scopes[m.Key] = scope
	}
	var err error
	if s.Quantities, err = quantities(line.Quantities); err != nil {
		return err
	}
	for _, q := range s.Quantities {
		for k := range q.Budget {
			q.Budget[k].Scope = scopes[q.Budget[k].Source]
		}
	}
	for _, j := range line.Phases {
		p, err := j.phase()
		if err != nil {
			return err
		}
		s.Phases = append(s.Phases, p)
	}
	return nil
}

// quantities reads quantities by their keys.
func quantities(in Object) ([]Measurement, error) {
	var out []Measurement
	for _, m := range in {
		q := Measurement{Key: m.Key}
		if err := q.UnmarshalJSON(m.Value.(json.RawMessage)); err != nil {
			return nil, fmt.Errorf("%s: %w", m.Key, err)
		}
		out = append(out, q)
	}
	return out, nil
}

// inputs lists the inputs that the budgets name, each with what shares its error.
func (s *Shot) inputs() Object {
	var out Object
	seen := map[string]bool{}
	for _, q := range s.Quantities {
		for _, c := range q.Budget {
			if !seen[c.Source] {
				seen[c.Source] = true
				out = append(out, Member{c.Source, c.Scope})
			}
		}
	}
	return out
}

func (c Condition) member() Member {
	if math.IsNaN(c.Value) && c.Text != "" {
		return Member{c.Key, c.Text}
	}
	return Member{c.Key, Number(c.Value)}
}

func condition(m Member) (Condition, error) {
	c := Condition{Key: m.Key, Value: math.NaN()}
	var value any
	if err := json.Unmarshal(m.Value.(json.RawMessage), &value); err != nil {
		return c, fmt.Errorf("condition %s: %w", m.Key, err)
	}
	switch x := value.(type) {
	case float64:
		c.Value = x
	case string:
		c.Text = x
	case bool:
		c.Text = strconv.FormatBool(x)
	}
	return c, nil
}

func recordingJSON(r Recording) jsonRecording {
	out := jsonRecording{r.Role, r.Trace, r.Points, Number(r.Dt), Number(r.Bandwidth), nil, Number(r.Range), r.Calibrated, r.Due}
	if r.Bits > 0 {
		out.Bits = &r.Bits
	}
	return out
}

func (j jsonRecording) recording() Recording {
	r := Recording{j.Role, j.Trace, j.Points, float64(j.Dt), float64(j.Bandwidth), 0, float64(j.Range), j.Calibrated, j.Due}
	if j.Bits != nil {
		r.Bits = *j.Bits
	}
	return r
}

func eventJSON(e Event) jsonEvent {
	out := jsonEvent{Edge: e.Edge, T: Number(e.T), Basis: e.Basis, Capture: e.Capture}
	if e.Pulse != 0 {
		out.Pulse = &e.Pulse
	}
	return out
}

func (j jsonEvent) event() Event {
	e := Event{Edge: j.Edge, T: float64(j.T), Basis: j.Basis, Capture: j.Capture}
	if j.Pulse != nil {
		e.Pulse = *j.Pulse
	}
	return e
}

// budgetDigits is to how many significant digits effects are written: more than
// an uncertainty holds, few enough to keep the files small.
const budgetDigits = 5

// MarshalJSON writes a quantity but for its key.
func (m Measurement) MarshalJSON() ([]byte, error) {
	q := jsonQuantity{
		Value:      Number(m.Value),
		Unit:       m.Unit,
		U:          Number(m.U),
		Dominant:   m.Dominant,
		Corrected:  Number(m.Corrected),
		From:       Number(m.Over.From),
		To:         Number(m.Over.To),
		Definition: m.Definition,
		PerRing:    Number(m.PerRing),
		PerDelay:   Number(m.PerDelay),
		Warnings:   each(m.Warnings, NewJSONWarning),
	}
	for _, c := range m.Budget {
		q.Budget = append(q.Budget, Member{c.Source, json.RawMessage(strconv.FormatFloat(c.Effect, 'g', budgetDigits, 64))})
	}
	if m.Delay != nil {
		q.Suggested, q.Applied, q.Basis = (*Number)(&m.Delay.Suggested), (*Number)(&m.Delay.Applied), m.Delay.Basis
	}
	if mc := m.MonteCarlo; mc != nil {
		q.MonteCarlo = &jsonTrials{mc.Seed, mc.Trials, mc.Lost, mc.Settled, Number(mc.Mean), Number(mc.U), Number(mc.Low), Number(mc.High),
			Number(mc.ShortLow), Number(mc.ShortHigh), Number(mc.Tolerance), mc.Agrees}
	}
	return Encode(q)
}

// UnmarshalJSON reads what MarshalJSON has written; of a budget sources and
// effects.
func (m *Measurement) UnmarshalJSON(text []byte) error {
	nan := Number(math.NaN())
	q := jsonQuantity{Value: nan, U: nan, From: nan, To: nan}
	if err := json.Unmarshal(text, &q); err != nil {
		return err
	}
	*m = Measurement{Key: m.Key, Unit: q.Unit, Value: float64(q.Value), U: float64(q.U), Dominant: q.Dominant, Corrected: float64(q.Corrected), Over: interval(q.From, q.To),
		Definition: q.Definition, PerRing: float64(q.PerRing), PerDelay: float64(q.PerDelay), Warnings: each(q.Warnings, JSONWarning.warning)}
	if q.Applied != nil {
		m.Delay = &Delay{Suggested: math.NaN(), Applied: float64(*q.Applied), Basis: q.Basis}
		if q.Suggested != nil {
			m.Delay.Suggested = float64(*q.Suggested)
		}
	}
	if mc := q.MonteCarlo; mc != nil {
		m.MonteCarlo = &MonteCarlo{mc.Seed, mc.Trials, mc.Lost, mc.Settled, float64(mc.Mean), float64(mc.U), float64(mc.Low), float64(mc.High),
			float64(mc.ShortLow), float64(mc.ShortHigh), float64(mc.Tolerance), mc.Agrees}
	}
	for _, b := range q.Budget {
		c := Contribution{Source: b.Key, Unit: q.Unit}
		if err := json.Unmarshal(b.Value.(json.RawMessage), &c.Effect); err != nil {
			return fmt.Errorf("budget, %s: %w", b.Key, err)
		}
		c.U = math.Abs(c.Effect)
		m.Budget = append(m.Budget, c)
	}
	return nil
}

func correctionJSON(c Correction) jsonCorrection {
	return jsonCorrection{c.Channel, c.Kind, Number(c.Value), c.Unit, Number(c.Over.From), Number(c.Over.To), Number(c.EOn), Number(c.EOff), c.Text}
}

func (j jsonCorrection) correction() Correction {
	return Correction{Channel: j.Channel, Kind: j.Kind, Value: float64(j.Value), Unit: j.Unit, Over: interval(j.From, j.To), EOn: float64(j.EOn), EOff: float64(j.EOff), Text: j.Text}
}

// each maps in to a slice that is never nil, so that JSON has [] and not null.
func each[T, U any](in []T, f func(T) U) []U {
	out := make([]U, len(in))
	for i, v := range in {
		out[i] = f(v)
	}
	return out
}

func list(in []string) []string { return append([]string{}, in...) }
