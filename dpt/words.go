package dpt

import (
	"errors"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// inIGBTWords puts the sentences of a shot in the words of an IGBT; keys, roles and
// codes are the same for both kinds.
func inIGBTWords(s *result.Shot) {
	warnings := func(ws []waveform.Warning) {
		for k := range ws {
			ws[k].Text = result.IGBTWords(ws[k].Text)
		}
	}
	warnings(s.Warnings)
	for k := range s.Quantities {
		q := &s.Quantities[k]
		q.Definition, q.Dominant = result.IGBTWords(q.Definition), result.IGBTWords(q.Dominant)
		q.Warnings = append([]waveform.Warning(nil), q.Warnings...) // quantities may share them
		warnings(q.Warnings)
	}
	for k := range s.Corrections {
		s.Corrections[k].Text = result.IGBTWords(s.Corrections[k].Text)
	}
	for k := range s.Events {
		s.Events[k].Basis = result.IGBTWords(s.Events[k].Basis)
	}
	for k := range s.Assumed {
		s.Assumed[k] = result.IGBTWords(s.Assumed[k])
	}
	if s.Err != nil {
		s.Err = errors.New(result.IGBTWords(s.Err.Error()))
	}
}
