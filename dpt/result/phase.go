package result

import "slewbook/waveform"

// Phase is a part of an edge that was switched in stages: a step, or a hold of the gate
// or of v between two steps.
type Phase struct {
	Edge       Edge
	Pulse      int    // 0 if it is not known
	Label      string // "step 1", "gate held at 8.00 V"
	Over       waveform.Interval
	Quantities []Measurement // dvdt and didt, signed, and e: over the phase
}

type jsonPhase struct {
	Edge       Edge   `json:"edge"`
	Pulse      int    `json:"pulse,omitempty"`
	Label      string `json:"label"`
	From       Number `json:"from"`
	To         Number `json:"to"`
	Quantities Object `json:"quantities"`
}

func phaseJSON(p Phase) jsonPhase {
	return jsonPhase{p.Edge, p.Pulse, p.Label, Number(p.Over.From), Number(p.Over.To), each(p.Quantities, func(m Measurement) Member { return Member{m.Key, m} })}
}

func (j jsonPhase) phase() (Phase, error) {
	p := Phase{Edge: j.Edge, Pulse: j.Pulse, Label: j.Label, Over: interval(j.From, j.To)}
	var err error
	p.Quantities, err = quantities(j.Quantities)
	return p, err
}
