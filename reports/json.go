package reports

import (
	"bytes"
	"encoding/json"
	"io"
	"math"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// number is a float that JSON can hold: NaN and infinities become null, every
// other value its shortest text that reads back to the same bits.
type number float64

func (x number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(x))
}

// object is a JSON object whose members keep their order.
type object []member

type member struct {
	key   string
	value any
}

func (o object) MarshalJSON() ([]byte, error) {
	buf := []byte{'{'}
	for i, m := range o {
		if i > 0 {
			buf = append(buf, ',')
		}
		for _, part := range []any{m.key, m.value} {
			text, err := encode(part)
			if err != nil {
				return nil, err
			}
			buf = append(append(buf, text...), ':')
		}
		buf = buf[:len(buf)-1]
	}
	return append(buf, '}'), nil
}

// encode returns v as one line of JSON, without HTML escapes and newline.
func encode(v any) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return bytes.TrimSuffix(buf.Bytes(), []byte("\n")), err
}

func writeJSONLine(w io.Writer, v any) error {
	line, err := encode(v)
	if err != nil {
		return err
	}
	_, err = w.Write(append(line, '\n'))
	return err
}

type jsonShot struct {
	Capture     string           `json:"capture"`
	Files       []string         `json:"files"`
	Conditions  object           `json:"conditions"`
	Schema      int              `json:"schema"`
	Version     string           `json:"version"`
	SHA256      []string         `json:"sha256"`
	Settings    string           `json:"settings"`
	Events      []jsonEvent      `json:"events"`
	Quantities  object           `json:"quantities"`
	Corrections []jsonCorrection `json:"corrections"`
	Assumed     []string         `json:"assumed"`
	Warnings    []jsonWarning    `json:"warnings"`
	Error       *string          `json:"error"`
}

type jsonEvent struct {
	Edge  result.Edge `json:"edge"`
	Pulse *int        `json:"pulse"`
	T     number      `json:"t"`
	Basis string      `json:"basis"`
}

type jsonQuantity struct {
	Value      number        `json:"value"`
	Unit       string        `json:"unit"`
	U          number        `json:"u"`
	Dominant   string        `json:"dominant,omitempty"` // what most of u comes from
	From       number        `json:"from"`
	To         number        `json:"to"`
	Definition string        `json:"definition"`
	PerRing    *number       `json:"per_ring,omitempty"`  // of energies: change where the window ends a period of the ringing later [J]
	PerDelay   *number       `json:"per_delay,omitempty"` // of energies: change with a lag of the current [J/s]
	Suggested  *number       `json:"suggested,omitempty"` // of delays: a doubtful estimate [s]
	Applied    *number       `json:"applied,omitempty"`   // of delays: what was removed [s]
	Warnings   []jsonWarning `json:"warnings"`
}

type jsonCorrection struct {
	Channel result.Role `json:"channel"`
	Kind    string      `json:"kind"`
	Value   number      `json:"value"`
	Unit    string      `json:"unit"`
	From    number      `json:"from"`
	To      number      `json:"to"`
	EOn     number      `json:"e_on"`
	EOff    number      `json:"e_off"`
	Text    string      `json:"text"`
}

type jsonWarning struct {
	Code    waveform.Code `json:"code"`
	Channel string        `json:"channel"`
	From    number        `json:"from"`
	To      number        `json:"to"`
	Text    string        `json:"text"`
}

type jsonLook struct {
	Capture  string        `json:"capture"`
	Files    []string      `json:"files"`
	Layout   string        `json:"layout"`
	Points   int           `json:"points"`
	T0       number        `json:"t0"`
	Dt       number        `json:"dt"`
	Segments int           `json:"segments"`
	Channels []jsonChannel `json:"channels"`
	Warnings []jsonWarning `json:"warnings"`
	Error    *string       `json:"error"`
}

type jsonChannel struct {
	Name      string       `json:"name"`
	Unit      string       `json:"unit"`
	Role      *result.Role `json:"role"`
	First     number       `json:"first"`
	Last      number       `json:"last"`
	Min       number       `json:"min"`
	Max       number       `json:"max"`
	OverRange int          `json:"over_range"`
	Basis     string       `json:"basis"`
	Sure      number       `json:"sure"`
}

// WriteShotJSON writes one shot as one line of JSON: SI base units, shortest
// round-trip numbers, quantities in the order of the shot. Traces are not
// written.
func WriteShotJSON(w io.Writer, s *result.Shot) error {
	return writeJSONLine(w, jsonShot{
		Capture:     s.Capture,
		Files:       list(s.Files),
		Conditions:  conditionObject(s.Conditions),
		Schema:      result.Schema,
		Version:     s.Version,
		SHA256:      list(s.SHA256),
		Settings:    s.Settings,
		Events:      each(s.Events, eventJSON),
		Quantities:  each(s.Quantities, quantityMember),
		Corrections: each(s.Corrections, correctionJSON),
		Assumed:     list(s.Assumed),
		Warnings:    each(s.Warnings, warningJSON),
		Error:       errorText(s.Err),
	})
}

// WriteLookJSON writes what one capture holds as one line of JSON.
func WriteLookJSON(w io.Writer, l *result.Look) error {
	return writeJSONLine(w, jsonLook{
		Capture:  l.Capture,
		Files:    list(l.Files),
		Layout:   l.Layout,
		Points:   l.Points,
		T0:       number(l.T0),
		Dt:       number(l.Dt),
		Segments: l.Segments,
		Channels: each(l.Channels, channelJSON),
		Warnings: each(l.Warnings, warningJSON),
		Error:    errorText(l.Err),
	})
}

func conditionObject(conditions []result.Condition) object {
	return each(conditions, func(c result.Condition) member {
		if math.IsNaN(c.Value) && c.Text != "" {
			return member{c.Key, c.Text}
		}
		return member{c.Key, number(c.Value)}
	})
}

func eventJSON(e result.Event) jsonEvent {
	out := jsonEvent{Edge: e.Edge, T: number(e.T), Basis: e.Basis}
	if e.Pulse != 0 {
		out.Pulse = &e.Pulse
	}
	return out
}

func quantityMember(m result.Measurement) member {
	return member{m.Key, quantityJSON(m)}
}

func quantityJSON(m result.Measurement) jsonQuantity {
	q := jsonQuantity{
		Value:      number(m.Value),
		Unit:       m.Unit,
		U:          number(m.U),
		Dominant:   m.Dominant,
		From:       number(m.Over.From),
		To:         number(m.Over.To),
		Definition: m.Definition,
		Warnings:   each(m.Warnings, warningJSON),
	}
	if m.PerRing != 0 {
		q.PerRing = (*number)(&m.PerRing)
	}
	if m.PerDelay != 0 {
		q.PerDelay = (*number)(&m.PerDelay)
	}
	if m.Delay != nil {
		d := *m.Delay
		q.Suggested, q.Applied = (*number)(&d.Suggested), (*number)(&d.Applied)
	}
	return q
}

func correctionJSON(c result.Correction) jsonCorrection {
	return jsonCorrection{
		Channel: c.Channel,
		Kind:    c.Kind,
		Value:   number(c.Value),
		Unit:    c.Unit,
		From:    number(c.Over.From),
		To:      number(c.Over.To),
		EOn:     number(c.EOn),
		EOff:    number(c.EOff),
		Text:    c.Text,
	}
}

func warningJSON(w waveform.Warning) jsonWarning {
	return jsonWarning{w.Code, w.Channel, number(w.Over.From), number(w.Over.To), w.Text}
}

func channelJSON(c result.Channel) jsonChannel {
	out := jsonChannel{
		Name:      c.Name,
		Unit:      c.Unit,
		First:     number(c.First),
		Last:      number(c.Last),
		Min:       number(c.Min),
		Max:       number(c.Max),
		OverRange: c.OverRange,
		Basis:     c.Basis,
		Sure:      number(c.Sure),
	}
	if c.Role != "" {
		out.Role = &c.Role
	}
	return out
}

func errorText(err error) *string {
	if err == nil {
		return nil
	}
	text := err.Error()
	return &text
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
