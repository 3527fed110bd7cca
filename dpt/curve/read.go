package curve

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// shotsFile holds a line of JSON for each shot of a result folder.
const shotsFile = "shots.jsonl"

// ReadFolder returns the shots of a result folder, in its order.
func ReadFolder(dir string) ([]*result.Shot, error) {
	path := filepath.Join(dir, shotsFile)
	in, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s is no result folder: %w; expected one that slewbook measure --out wrote", dir, err)
	}
	defer in.Close()
	shots, err := ReadShots(in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return shots, nil
}

// ReadShots reads lines of JSON as slewbook measure writes them.
func ReadShots(r io.Reader) ([]*result.Shot, error) {
	var shots []*result.Shot
	for dec := json.NewDecoder(r); ; {
		var line jsonShot
		err := dec.Decode(&line)
		if err == io.EOF {
			return shots, nil
		}
		if err != nil {
			return nil, fmt.Errorf("shot %d: %w; expected a JSON object a line", len(shots)+1, err)
		}
		if line.Schema != result.Schema {
			return nil, fmt.Errorf("shot %d (%s): schema %d; this version reads %d: measure the captures again", len(shots)+1, line.Capture, line.Schema, result.Schema)
		}
		shots = append(shots, line.shot())
	}
}

type jsonShot struct {
	Capture    string                  `json:"capture"`
	Files      []string                `json:"files"`
	SHA256     []string                `json:"sha256"`
	Conditions map[string]any          `json:"conditions"`
	Schema     int                     `json:"schema"`
	Version    string                  `json:"version"`
	Settings   string                  `json:"settings"`
	Events     []jsonEvent             `json:"events"`
	Quantities map[string]jsonQuantity `json:"quantities"`
	Warnings   []jsonWarning           `json:"warnings"`
	Error      *string                 `json:"error"`
}

type jsonEvent struct {
	Edge  result.Edge `json:"edge"`
	Pulse *int        `json:"pulse"`
	T     *float64    `json:"t"`
}

type jsonQuantity struct {
	Value      *float64      `json:"value"`
	Unit       string        `json:"unit"`
	U          *float64      `json:"u"`
	Definition string        `json:"definition"`
	Warnings   []jsonWarning `json:"warnings"`
}

type jsonWarning struct {
	Code    waveform.Code `json:"code"`
	Channel string        `json:"channel"`
	Text    string        `json:"text"`
}

func (j jsonShot) shot() *result.Shot {
	s := &result.Shot{Capture: j.Capture, Files: j.Files, SHA256: j.SHA256, Version: j.Version, Settings: j.Settings, Warnings: warnings(j.Warnings)}
	for _, key := range slices.Sorted(maps.Keys(j.Conditions)) {
		c := result.Condition{Key: key, Value: math.NaN()}
		switch x := j.Conditions[key].(type) {
		case float64:
			c.Value = x
		case string:
			c.Text = x
		case bool:
			c.Text = fmt.Sprint(x)
		default:
			continue // null
		}
		s.Conditions = append(s.Conditions, c)
	}
	for _, e := range j.Events {
		event := result.Event{Edge: e.Edge, T: orNaN(e.T)}
		if e.Pulse != nil {
			event.Pulse = *e.Pulse
		}
		s.Events = append(s.Events, event)
	}
	for _, key := range orderedKeys(j.Quantities) {
		q := j.Quantities[key]
		s.Quantities = append(s.Quantities, result.Measurement{Key: key, Unit: q.Unit, Value: orNaN(q.Value), U: orNaN(q.U), Definition: q.Definition, Warnings: warnings(q.Warnings)})
	}
	if j.Error != nil {
		s.Err = errors.New(*j.Error)
	}
	return s
}

// orderedKeys lists the keys in the order of the columns, those without one
// last.
func orderedKeys(m map[string]jsonQuantity) []string {
	keys := slices.Sorted(maps.Keys(m))
	place := func(key string) int {
		for k, c := range result.Columns {
			if c.Key == key {
				return k
			}
		}
		return len(result.Columns)
	}
	slices.SortStableFunc(keys, func(a, b string) int { return place(a) - place(b) })
	return keys
}

func warnings(in []jsonWarning) []waveform.Warning {
	var out []waveform.Warning
	for _, w := range in {
		out = append(out, waveform.Warning{Code: w.Code, Channel: w.Channel, Text: w.Text})
	}
	return out
}

func orNaN(x *float64) float64 {
	if x == nil {
		return math.NaN()
	}
	return *x
}
