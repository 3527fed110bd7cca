package dpt

import (
	"math"
	"math/rand/v2"
	"slices"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
)

// model is how quantities follow from an edge and from the inputs that it is read
// with.
type model struct {
	near   *edge
	inputs []source
	found  map[string]reading // with their budgets
	read   func(*edge) map[string]reading
	redraw bool // noise is drawn on the traces; else as an effect on each reading
}

// keep leaves a model for simulate, where one is asked for.
func (m *measurer) keep(x model) {
	if m.opt.MonteCarlo.Most > 0 {
		m.models = append(m.models, x)
	}
}

// simulate propagates distributions through the reading of the edges (JCGM 101): each
// trial draws every input of the budgets, one draw for all quantities that share it,
// redraws noise and quantisation on the traces, and reads the edges again.
func (m *measurer) simulate() {
	s := m.newSimulated(m.simulatedKeys())
	if len(s.keys) == 0 {
		return
	}
	for k, mc := range m.opt.MonteCarlo.Run(len(s.keys), s.newTrial) {
		q := m.read[s.keys[k]]
		mc.Agrees = uncertainty.Agrees(q.value, q.u, mc)
		q.monteCarlo = &mc
		m.read[s.keys[k]] = q
	}
}

// simulatedKeys lists the quantities to simulate: the one that is asked for, else
// those of the columns.
func (m *measurer) simulatedKeys() []string {
	if m.opt.Simulate != "" {
		return []string{m.opt.Simulate}
	}
	var keys []string
	for _, c := range result.Columns {
		keys = append(keys, c.Key)
	}
	return keys
}

// simulated is the models of a shot, with the draws that they share.
type simulated struct {
	models []drawn
	draws  []bool   // of each draw whether it is rectangular; else it is normal
	keys   []string // in the order of a trial's values
	total  [2]int   // places of e_on and e_off, whose sum is the last value; of -1 there is no sum
}

// drawn is a model with the places of its draws and values.
type drawn struct {
	model
	places []mixture // of each input
	values []drawnValue
	steps  map[result.Role]float64 // of the converter, as the samples show them
}

// mixture is where the draw of an input stands, and that of a reference which makes
// a part of its error.
type mixture struct {
	own, shared int
	part        float64 // of the uncertainty; 0 where there is no reference
}

func (p mixture) of(z []float64) float64 {
	return p.part*z[p.shared] + math.Sqrt(1-p.part*p.part)*z[p.own]
}

// drawnValue is a quantity of a model, with the effects on it that no input of the
// edge stands for.
type drawnValue struct {
	key   string
	place int
	own   []result.Contribution
	more  float64 // the correction, which a trial reads without
}

// rectangular names the effects that are those of bounds, of which u is the part
// 1/√3 (JCGM 100, 4.3.7).
var rectangular = []string{"sampling", bandwidthSource, correctedSource}

// newSimulated takes those models that read one of the wanted quantities.
func (m *measurer) newSimulated(wanted []string) *simulated {
	s := &simulated{total: [2]int{-1, -1}}
	total := slices.Contains(wanted, "e_tot")
	if total {
		wanted = append(slices.Clone(wanted), "e_on", "e_off")
	}
	type input struct {
		name string
		edge int // index of the edge whose input it is alone, else -1
	}
	at := map[input]int{}
	place := func(in input, bounded bool) int {
		if _, ok := at[in]; !ok {
			at[in] = len(s.draws)
			s.draws = append(s.draws, bounded)
		}
		return at[in]
	}
	for _, x := range m.models {
		d := drawn{model: x, steps: map[result.Role]float64{}}
		for _, key := range wanted {
			if q := x.found[key]; q.u > 0 && !slices.Contains(s.keys, key) {
				d.values = append(d.values, drawnValue{key, len(s.keys), x.own(q), q.corrected})
				s.keys = append(s.keys, key)
			}
		}
		if len(d.values) == 0 {
			continue
		}
		for _, role := range result.Roles {
			if tr, _ := x.near.trace(role); tr != nil && x.redraw {
				d.steps[role] = max(waveform.Quantum(tr.Y), m.opt.Channels[role].Step)
			}
		}
		for _, src := range x.inputs {
			in := input{src.name, -1}
			if src.scope == result.OfEdge {
				in.edge = x.near.index
			}
			own := mixture{own: place(in, src.bounded)}
			if name, part := m.reference(src.name); name != "" {
				own.shared, own.part = place(input{name, -1}, src.bounded), part
			}
			d.places = append(d.places, own)
		}
		s.models = append(s.models, d)
	}
	if on, off := slices.Index(s.keys, "e_on"), slices.Index(s.keys, "e_off"); total && on >= 0 && off >= 0 {
		s.total = [2]int{on, off}
		s.keys = append(s.keys, "e_tot")
	}
	return s
}

// own returns the lines of a reading's budget that no input of the edge and no
// redrawn noise stands for.
func (m model) own(q reading) []result.Contribution {
	var own []result.Contribution
	for _, c := range q.budget {
		input := slices.ContainsFunc(m.inputs, func(x source) bool { return x.name == c.Source })
		if !input && !(m.redraw && c.Source == noiseSource) {
			own = append(own, c)
		}
	}
	return own
}

// newTrial returns a trial with memory of its own for its draws.
func (s *simulated) newTrial() uncertainty.Trial {
	z := make([]float64, len(s.draws))
	return func(rng *rand.Rand, out []float64) {
		for k, bounded := range s.draws {
			z[k] = draw(rng, bounded)
		}
		for _, m := range s.models {
			got := m.read(m.moved(z, rng))
			for _, v := range m.values {
				out[v.place] = math.NaN()
				if q, ok := got[v.key]; ok {
					out[v.place] = q.value + v.more
				}
				for _, c := range v.own {
					out[v.place] += c.Effect * draw(rng, slices.Contains(rectangular, c.Source))
				}
			}
		}
		if s.total[0] >= 0 {
			out[len(out)-1] = out[s.total[0]] + out[s.total[1]]
		}
	}
}

// moved returns the edge with every input off by its draw, and noise of its own.
func (m drawn) moved(z []float64, rng *rand.Rand) *edge {
	e := m.near.copy()
	for k, x := range m.inputs {
		if x.u > 0 {
			x.move(e, x.u*m.places[k].of(z))
		}
	}
	if m.redraw {
		for _, own := range []struct {
			role result.Role
			tr   **waveform.Trace
		}{{result.Vds, &e.v}, {result.Id, &e.i}, {result.Vgs, &e.g}} {
			*own.tr = redrawn(*own.tr, e.grain[own.role], m.steps[own.role], rng)
		}
		for _, role := range result.Roles {
			if tr, ok := e.other[role]; ok {
				e.other[role] = redrawn(tr, e.grain[role], m.steps[role], rng)
			}
		}
	}
	return e
}

// draw returns a random number of mean 0 and standard deviation 1.
func draw(rng *rand.Rand, bounded bool) float64 {
	if bounded {
		return math.Sqrt(3) * (2*rng.Float64() - 1)
	}
	return rng.NormFloat64()
}

// redrawn returns the trace with noise of its grain added: that part which is
// quantisation drawn from half a step to either side, the other normal, each sample
// correlated with the one before so that they add up to the grain's reach.
func redrawn(tr *waveform.Trace, g grain, step float64, rng *rand.Rand) *waveform.Trace {
	if tr == nil || !(g.sigma > 0) {
		return tr
	}
	step = min(step, math.Sqrt(12)*g.sigma)
	normal := math.Sqrt(g.sigma*g.sigma - step*step/12)
	rho := (g.reach - 1) / (g.reach + 1)
	fresh, last := math.Sqrt(1-rho*rho), rng.NormFloat64()
	out := change(tr, 1, 0)
	for k := range out.Y {
		out.Y[k] += normal*last + step*(rng.Float64()-0.5)
		last = rho*last + fresh*rng.NormFloat64()
	}
	return out
}
