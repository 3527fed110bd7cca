package reports

import (
	"io"

	"slewbook/dpt/result"
)

func writeJSONLine(w io.Writer, v any) error {
	line, err := result.Encode(v)
	if err != nil {
		return err
	}
	_, err = w.Write(append(line, '\n'))
	return err
}

type jsonLook struct {
	Capture  string               `json:"capture"`
	Files    []string             `json:"files"`
	Layout   string               `json:"layout"`
	Points   int                  `json:"points"`
	T0       result.Number        `json:"t0"`
	Dt       result.Number        `json:"dt"`
	Segments int                  `json:"segments"`
	Grouping string               `json:"grouping,omitempty"`
	Channels []jsonChannel        `json:"channels"`
	Warnings []result.JSONWarning `json:"warnings"`
	Error    *string              `json:"error"`
}

type jsonChannel struct {
	Name      string         `json:"name"`
	Unit      string         `json:"unit"`
	Role      *result.Role   `json:"role"`
	First     result.Number  `json:"first"`
	Last      result.Number  `json:"last"`
	Min       result.Number  `json:"min"`
	Max       result.Number  `json:"max"`
	OverRange int            `json:"over_range"`
	Points    *int           `json:"points,omitempty"` // and t0, dt: where they differ from the first channel's
	T0        *result.Number `json:"t0,omitempty"`
	Dt        *result.Number `json:"dt,omitempty"`
	Basis     string         `json:"basis"`
	Sure      result.Number  `json:"sure"`
}

// WriteShotJSON writes one shot as one line of JSON: SI base units, shortest
// round-trip numbers, quantities in the order of the shot. Traces are not
// written.
func WriteShotJSON(w io.Writer, s *result.Shot) error { return writeJSONLine(w, s) }

// WriteLookJSON writes what one capture holds as one line of JSON.
func WriteLookJSON(w io.Writer, l *result.Look) error {
	return writeJSONLine(w, jsonLook{
		Capture:  l.Capture,
		Files:    list(l.Files),
		Layout:   l.Layout,
		Points:   l.Points,
		T0:       result.Number(l.T0),
		Dt:       result.Number(l.Dt),
		Segments: l.Segments,
		Grouping: l.Grouping,
		Channels: each(l.Channels, func(c result.Channel) jsonChannel { return channelJSON(l, c) }),
		Warnings: each(l.Warnings, result.NewJSONWarning),
		Error:    errorText(l.Err),
	})
}

func channelJSON(l *result.Look, c result.Channel) jsonChannel {
	out := jsonChannel{
		Name:      c.Name,
		Unit:      c.Unit,
		First:     result.Number(c.First),
		Last:      result.Number(c.Last),
		Min:       result.Number(c.Min),
		Max:       result.Number(c.Max),
		OverRange: c.OverRange,
		Basis:     c.Basis,
		Sure:      result.Number(c.Sure),
	}
	if c.Role != "" {
		out.Role = &c.Role
	}
	if ownAxis(l, c) {
		t0, dt := result.Number(c.T0), result.Number(c.Dt)
		out.Points, out.T0, out.Dt = &c.Points, &t0, &dt
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
