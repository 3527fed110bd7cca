package dpt

import (
	"fmt"
	"math"

	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
)

// effect is a correction that changed the shape of a trace, kept until the
// windows are known in which it changed the energies.
type effect struct {
	at            int // which of the shot's corrections
	role          result.Role
	before, after *waveform.Trace
}

// correct applies to a trace what the set-up says of its channel: scale, sign,
// offset and delay; the inductance of a shunt; the filter.
func (r *record) correct(a assignment, opt Options, shot *result.Shot) (*waveform.Trace, error) {
	ch, ok := opt.Channels[a.role]
	if !ok {
		ch = Channel{Channel: condition.AsRead(), Bandwidth: math.NaN()}
	}
	if err := a.unscaled(ch); err != nil {
		return nil, err
	}
	tr := condition.Apply(a.trace, ch.Channel)
	for _, s := range tr.Steps[len(a.trace.Steps):] {
		shot.Corrections = append(shot.Corrections, correction(a.role, s))
	}
	r.quantum[a.role] = waveform.Quantum(tr.Y)
	if ch.Probe > 0 {
		slowed, err := r.probe(a.role, tr, ch.Probe, shot)
		if err != nil {
			return nil, err
		}
		tr = slowed
	}
	if ch.ShuntL > 0 {
		tr = r.reshape(a.role, tr, condition.Shunt(tr, ch.ShuntR, ch.ShuntL), shot)
	}
	if ch.Filter != "" {
		out, err := condition.Filter(tr, ch.Filter)
		if err != nil {
			return nil, fmt.Errorf("%s (trace %q): %w; change channel.%s.filter in the set-up file", a.role, a.trace.Name, err, a.role)
		}
		tr = r.reshape(a.role, tr, out, shot)
	}
	r.bandwidth[a.role] = waveform.SystemBandwidth(ch.Bandwidth, condition.Bandwidth(tr))
	if ch.Exact && math.IsNaN(r.bandwidth[a.role]) {
		r.bandwidth[a.role] = math.Inf(1)
	}
	return tr, nil
}

// unscaled refuses a current that stands in volts in the file, where no factor that makes
// amperes of them is stated.
func (a assignment) unscaled(ch Channel) error {
	if a.role.Unit() != "A" || a.trace.Unit != "V" || ch.ScaleStated || ch.Scale != 1 {
		return nil
	}
	return fmt.Errorf("trace %q has the unit V, but the role %s needs A, and nothing says how many amperes a volt is: add channel.%s.scale to the set-up file (10 for a sensor of 100 mV/A, 1/R for a shunt, 1 where the file holds amperes under a wrong unit)",
		a.trace.Name, a.role, a.role)
}

// reshape notes the last step on after, which made it of before, as a
// correction of the shot, and returns after.
func (r *record) reshape(role result.Role, before, after *waveform.Trace, shot *result.Shot) *waveform.Trace {
	r.effects = append(r.effects, effect{len(shot.Corrections), role, before, after})
	shot.Corrections = append(shot.Corrections, correction(role, after.Steps[len(after.Steps)-1]))
	return after
}

// correction is a step on a trace as the result tells it.
func correction(role result.Role, s waveform.Step) result.Correction {
	return result.Correction{Channel: role, Kind: s.Kind, Value: s.Value, Unit: s.Unit, EOn: math.NaN(), EOff: math.NaN(), Text: s.Text}
}

// matchBandwidth slows the faster one of v and i to the bandwidth of the slower
// one, where that is asked for.
func (r *record) matchBandwidth(opt Options, shot *result.Shot) error {
	if !opt.MatchBandwidth {
		return nil
	}
	bv, bi := r.bandwidth[result.Vds], r.bandwidth[result.Id]
	role, tr := result.Vds, &r.v
	if bi > bv {
		role, tr = result.Id, &r.i
	}
	out, err := condition.Match(*tr, max(bv, bi), min(bv, bi))
	if err != nil {
		return fmt.Errorf("bandwidths of vds and id cannot be matched: %w; take alignment.match_bandwidth out of the set-up file", err)
	}
	if out == *tr {
		shot.Corrections = append(shot.Corrections, result.Correction{Channel: role, Kind: condition.MatchKind, Value: math.NaN(), Unit: "Hz", EOn: math.NaN(), EOff: math.NaN(),
			Text: fmt.Sprintf("vds has %.4g MHz and id %.4g MHz, too alike to show in these samples: nothing was done", bv*1e-6, bi*1e-6)})
		return nil
	}
	*tr = r.reshape(role, *tr, out, shot)
	r.bandwidth[role] = min(bv, bi)
	return nil
}

// takeDroop takes the droop out of the current where the set-up gives its time
// constant. That integrates from the start of the record, so it needs the
// current at rest there; where it is not, the droop stays in, with a warning.
func (r *record) takeDroop(opt Options, shot *result.Shot) {
	tau := opt.Channels[result.Id].Droop
	if !(tau > 0) {
		return
	}
	z, _, w := r.zero(opt.Level, opt.ZeroOver)
	if w != nil || r.conducts(0) || z.over.To > r.moves[0].T {
		shot.Warnings = append(shot.Warnings, waveform.Warning{Code: waveform.NoBaseline, Channel: string(result.Id),
			Text: fmt.Sprintf("the droop of id (channel.id.droop, %.4g µs) is left in: to integrate it the record must begin with the device blocking, and the zero must be read there; "+
				"as it is the current reads low, by about 1 %% for each %.3g ns that it has flowed", tau*1e6, tau*1e7)})
		return
	}
	r.i = r.reshape(result.Id, r.i, condition.Droop(r.i, tau, z.level, z.over), shot)
}

// correctionEffects completes the corrections that changed the shape of v or i
// with what each did to the energies: over the windows as they are, and with
// the other trace as it is. The zero's tells what its drift would do.
func (m *measurer) correctionEffects() {
	off, on := m.read["e_off"].over, m.read["e_on"].over
	for _, f := range m.r.effects {
		c := &m.shot.Corrections[f.at]
		c.EOff, c.EOn = m.r.energyChange(f, off), m.r.energyChange(f, on)
	}
	m.tellCorrected()
	for k := range m.shot.Corrections {
		if c := &m.shot.Corrections[k]; c.Channel == result.Id && !math.IsNaN(m.drift) && (c.Kind == "zero" || c.Kind == "zero-kept") {
			c.Text += m.driftEffect("e_off", off) + m.driftEffect("e_on", on)
		}
	}
}

// driftEffect tells what the energy over iv would change by with the zero read
// in the last other blocking stretch, -drift·∫v dt.
func (m *measurer) driftEffect(key string, iv waveform.Interval) string {
	change := -m.drift * waveform.Integral(m.r.v, iv)
	if math.IsNaN(change) {
		return ""
	}
	return fmt.Sprintf("; a zero off by as much changes %s by %s", key, joules(change))
}

// energyChange returns the change of the energy over iv that a correction made,
// NaN where there is no such energy.
func (r *record) energyChange(f effect, iv waveform.Interval) float64 {
	now, other := r.i, r.v
	switch f.role {
	case result.Vds:
		now, other = r.v, r.i
	case result.Id:
	default:
		return math.NaN()
	}
	// A delay may have been taken out since.
	before, after := *f.before, *f.after
	before.T0 += now.T0 - after.T0
	after.T0 = now.T0
	return waveform.ProductIntegral(&after, other, iv) - waveform.ProductIntegral(&before, other, iv)
}

// validateChannels tells what is wrong with the corrections and filters of the
// channels.
func (o Options) validateChannels() error {
	for _, role := range append(result.SetupRoles(), result.Roles...) {
		ch, ok := o.Channels[role]
		if ok {
			if err := ch.validate(role); err != nil {
				return err
			}
		}
		if (role == result.Vds || role == result.Id) && !(ok && ch.Bandwidth > 0) {
			const missing = "the bandwidths of vds and id needs both, but that of %s is not given; expected channel.%s.bandwidth"
			if o.MatchBandwidth {
				return fmt.Errorf("matching "+missing, role, role)
			}
			if o.CorrectBandwidth {
				return fmt.Errorf("correcting for "+missing, role, role)
			}
		}
	}
	return nil
}

func (ch Channel) validate(role result.Role) error {
	shunt, coil := ch.ShuntR > 0 || ch.ShuntL > 0, ch.Droop > 0
	switch {
	case ch.ShuntR < 0 || ch.ShuntL < 0 || ch.Droop < 0:
		return fmt.Errorf("channel.%s: shunt of %g ohm and %g H, droop of %g s: expected more than zero, or none", role, ch.ShuntR, ch.ShuntL, ch.Droop)
	case shunt && !(ch.ShuntR > 0 && ch.ShuntL > 0):
		return fmt.Errorf("channel.%s: a shunt needs its resistance and its inductance; got %g ohm and %g H", role, ch.ShuntR, ch.ShuntL)
	case shunt && role.Unit() != "A":
		return fmt.Errorf("channel.%s: a shunt, but the role is a voltage", role)
	case coil && role != result.Id:
		return fmt.Errorf("channel.%s: droop is taken out of id only", role)
	case ch.Filter != "":
		if err := condition.CheckFilter(ch.Filter); err != nil {
			return fmt.Errorf("channel.%s: %w", role, err)
		}
	}
	return nil
}
