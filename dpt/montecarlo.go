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
	s := newSimulated(m.models, m.simulatedKeys())
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
	places []int // of each input among the draws
	values []drawnValue
	steps  map[result.Role]float64 // of the converter, as the samples show them
}

// drawnValue is a quantity of a model, with the effects on it that no input of the
// edge stands for.
type drawnValue struct {
	key   string
	place int
	own   []result.Contribution
}

// rectangular names the effects that are those of bounds, of which u is the part
// 1/√3 (JCGM 100, 4.3.7).
var rectangular = []string{"sampling", "bandwidth"}

// newSimulated takes those models that read one of the wanted quantities.
func newSimulated(models []model, wanted []string) *simulated {
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
	for _, m := range models {
		d := drawn{model: m, steps: map[result.Role]float64{}}
		for _, key := range wanted {
			if q := m.found[key]; q.u > 0 && !slices.Contains(s.keys, key) {
				d.values = append(d.values, drawnValue{key, len(s.keys), m.own(q)})
				s.keys = append(s.keys, key)
			}
		}
		if len(d.values) == 0 {
			continue
		}
		for _, role := range result.Roles {
			if tr, _ := m.near.trace(role); tr != nil && m.redraw {
				d.steps[role] = waveform.Quantum(tr.Y)
			}
		}
		for _, x := range m.inputs {
			in := input{x.name, -1}
			if x.scope == result.OfEdge {
				in.edge = m.near.index
			}
			if _, ok := at[in]; !ok {
				at[in] = len(s.draws)
				s.draws = append(s.draws, x.bounded)
			}
			d.places = append(d.places, at[in])
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
					out[v.place] = q.value
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
			x.move(e, x.u*z[m.places[k]])
		}
	}
	if m.redraw {
		e.v = redrawn(e.v, e.grain[result.Vds].sigma, m.steps[result.Vds], rng)
		e.i = redrawn(e.i, e.grain[result.Id].sigma, m.steps[result.Id], rng)
		e.g = redrawn(e.g, e.grain[result.Vgs].sigma, m.steps[result.Vgs], rng)
		for _, role := range result.Roles {
			if tr, ok := e.other[role]; ok {
				e.other[role] = redrawn(tr, e.grain[role].sigma, m.steps[role], rng)
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

// redrawn returns the trace with noise of standard deviation sigma added; that part of
// it which is quantisation is drawn from half a step to either side.
func redrawn(tr *waveform.Trace, sigma, step float64, rng *rand.Rand) *waveform.Trace {
	if tr == nil || !(sigma > 0) {
		return tr
	}
	step = min(step, math.Sqrt(12)*sigma)
	normal := math.Sqrt(sigma*sigma - step*step/12)
	out := change(tr, 1, 0)
	for k := range out.Y {
		out.Y[k] += normal*rng.NormFloat64() + step*(rng.Float64()-0.5)
	}
	return out
}
