package dpt

import (
	"fmt"
	"math"
	"strings"

	"slewbook/dpt/result"
	"slewbook/dpt/uncertainty"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// Given is what only a set-up can tell of capacitances and inductances; zero
// where it does not.
type Given struct {
	LPackage   float64       // inductance of the device between its sense points and the chip [H]
	LSensor    float64       // inductance that the current sensor puts into the loop [H]
	LLoad      float64       // inductance of the load [H]
	CBus       float64       // capacitance of the bank [F]
	CRing      float64       // capacitance that the loop rings with after the turn-off [F]
	CAdded     float64       // capacitance put beside it in another shot [F]
	FAdded     float64       // frequency of the ringing in that shot [Hz]
	Coss       []Capacitance // output capacitance of the device by voltage, from 0 V on
	CossEnergy float64       // its energy-equivalent at the bus voltage [F]
	CossCharge float64       // its charge-equivalent at the bus voltage [F]
}

// Capacitance is one point of a curve.
type Capacitance struct {
	V float64 // [V]
	C float64 // [F]
}

// givenU is the standard uncertainty of a capacitance from a set-up, relative:
// data sheets give typical curves; and addedU that of a frequency from it.
const (
	givenU = 0.05
	addedU = 0.005
)

// ParseCoss reads a curve of the form "0 V: 2.1 nF, 50 V: 400 pF", of voltages that
// rise from zero.
func ParseCoss(text string) ([]Capacitance, error) {
	const form = `expected a curve that begins at 0 V and rises, such as "0 V: 2.1 nF, 50 V: 400 pF, 800 V: 150 pF"`
	var curve []Capacitance
	for point := range strings.SplitSeq(text, ",") {
		v, c, ok := strings.Cut(point, ":")
		if !ok {
			return nil, fmt.Errorf("%q; %s", strings.TrimSpace(point), form)
		}
		var p Capacitance
		var err error
		if p.V, err = unit.Parse(strings.TrimSpace(v), "V"); err != nil {
			return nil, fmt.Errorf("%w; %s", err, form)
		}
		if p.C, err = unit.Parse(strings.TrimSpace(c), "F"); err != nil {
			return nil, fmt.Errorf("%w; %s", err, form)
		}
		if n := len(curve); n == 0 && p.V != 0 || n > 0 && p.V <= curve[n-1].V || p.C <= 0 {
			return nil, fmt.Errorf("%q; %s", strings.TrimSpace(point), form)
		}
		curve = append(curve, p)
	}
	if len(curve) < 2 {
		return nil, fmt.Errorf("%q is one point; %s", text, form)
	}
	return curve, nil
}

// stored returns ∫C dv [C] and ∫C·v dv [J] from zero to v, with straight lines
// between the points; NaN beyond the last one.
func stored(curve []Capacitance, v float64) (charge, energy float64) {
	for k := 1; k < len(curve); k++ {
		a, b := curve[k-1], curve[k]
		if v < b.V {
			b.C = a.C + (b.C-a.C)*(v-a.V)/(b.V-a.V)
			b.V = v
		}
		d, s := b.V-a.V, (b.C-a.C)/(b.V-a.V)
		charge += d * (a.C + b.C) / 2
		// ∫(C_a + s·x)(V_a + x)dx
		energy += d * (a.C*a.V + d*(a.C+s*a.V)/2 + d*d*s/3)
		if v <= b.V {
			return charge, energy
		}
	}
	return math.NaN(), math.NaN()
}

// given reads what needs data of the set-up.
func (m *measurer) given() {
	g := m.opt.Given
	if g.CRing > 0 || g.CAdded > 0 {
		m.ringInductance()
	}
	if g.LSensor > 0 {
		m.bareLoop(g.LSensor)
	}
	if len(g.Coss) > 0 || g.CossEnergy > 0 || g.CossCharge > 0 {
		m.outputCapacitance()
	}
}

// bareLoop reads the loop inductance without the current sensor, which is a part of the
// loop while it measures, and says of the one with it that it is in there.
func (m *measurer) bareLoop(sensor float64) {
	l, text := m.read["l_loop"], unit.Format(sensor, "H", 3)
	def := fmt.Sprintf("l_loop less %s of the current sensor, as given", text)
	with := l
	with.def += fmt.Sprintf("; %s of the current sensor, as given, are in it", text)
	m.read["l_loop"] = with
	q := reading{value: l.value - sensor, over: l.over, def: def}
	switch {
	case math.IsNaN(l.value):
		q = missing(def, firstWarning(l))
	case !(q.value > 0):
		q = missing(def, &waveform.Warning{Code: waveform.LoopDisagrees, Over: l.over,
			Text: fmt.Sprintf("the whole loop has %s, which leaves nothing beside the %s of the current sensor: look at channel.id.l_insert", unit.Format(l.value, "H", 3), text)})
	default:
		m.assume("insertion inductance of the sensor known to %s (k = 1)", unit.Format(givenU, "1", 2))
		q.budgeted([]result.Contribution{
			{Source: "l_loop", U: l.u, Unit: "H", Effect: l.u, Scope: result.OfShot, Basis: fromCapture},
			{Source: "inductance of the sensor", U: givenU * sensor, Unit: "H", Effect: -givenU * sensor, Scope: result.OfSetup, Basis: assumed},
		})
	}
	m.read["l_loop_bare"] = q
}

// ringInductance reads the inductance of the whole ringing loop from the frequency
// of the ringing after the turn-off, L = 1/((2πf0)²·C) with f0 = f/√(1 - ζ²), the
// capacitance as given or from two rings, C = C_added/((f0/f1)² - 1) (a logic maker's
// application note on snubbers, text seen).
func (m *measurer) ringInductance() {
	g, f, zeta := m.opt.Given, m.read["f_ring_off"], m.read["zeta_off"]
	def := "1/((2πf0)²·C) of the ringing after turn-off: the whole ringing loop, the device's package in it"
	if math.IsNaN(f.value) {
		m.read["l_loop_ring"] = missing(def, firstWarning(f))
		if g.CAdded > 0 {
			m.read["c_ring"] = missing("", firstWarning(f))
		}
		return
	}
	f0 := f.value / math.Sqrt(1-zeta.value*zeta.value)
	c, uc, uf := g.CRing, givenU, 2*f.u/f.value
	how := fmt.Sprintf("C = %s as given", unit.Format(c, "F", 3))
	lines := []result.Contribution{}
	if g.CAdded > 0 {
		k := (f0 / g.FAdded) * (f0 / g.FAdded)
		if !(k > 1) {
			w := &waveform.Warning{Code: waveform.LevelNotReached, Channel: string(result.Vds), Over: f.over,
				Text: fmt.Sprintf("the ring at %s is not faster than the one with the capacitance added, %s: no capacitance follows", unit.Format(f0, "Hz", 4), unit.Format(g.FAdded, "Hz", 4))}
			m.read["c_ring"], m.read["l_loop_ring"] = missing("", w), missing(def, w)
			return
		}
		c = g.CAdded / (k - 1)
		q := reading{value: c, over: f.over, def: fmt.Sprintf("C_added/((f0/f1)² - 1), C_added = %s, f1 = %s as given", unit.Format(g.CAdded, "F", 3), unit.Format(g.FAdded, "Hz", 4))}
		x := k / (k - 1)
		q.budgeted([]result.Contribution{
			{Source: "f_ring_off", U: f.u, Unit: "Hz", Effect: -2 * x * f.u / f.value * c, Scope: result.OfShot, Basis: fromCapture},
			{Source: "frequency with the capacitance added", U: addedU * g.FAdded, Unit: "Hz", Effect: 2 * x * addedU * c, Scope: result.OfSetup, Basis: assumed},
			{Source: "capacitance added", U: givenU * g.CAdded, Unit: "F", Effect: givenU * c, Scope: result.OfSetup, Basis: assumed},
		})
		m.read["c_ring"] = q
		how, uc = fmt.Sprintf("C = %s by two rings", unit.Format(c, "F", 3)), math.Hypot(givenU, 2*x*addedU)
		uf = 2 * (x - 1) * f.u / f.value // f0 is in C as well
	}
	l := 1 / (4 * math.Pi * math.Pi * f0 * f0 * c)
	lines = append(lines,
		result.Contribution{Source: "capacitance", U: uc * c, Unit: "F", Effect: -uc * l, Scope: result.OfSetup, Basis: assumed},
		result.Contribution{Source: "f_ring_off", U: f.u, Unit: "Hz", Effect: -uf * l, Scope: result.OfShot, Basis: fromCapture})
	q := reading{value: l, over: f.over, def: def + "; " + how}
	if g.LPackage > 0 {
		q.value -= g.LPackage
		q.def = fmt.Sprintf("1/((2πf0)²·C) of the ringing after turn-off, less %s of the device's package, as given; %s", unit.Format(g.LPackage, "H", 3), how)
	}
	q.budgeted(lines)
	m.assume("capacitances of the set-up known to %s (k = 1)", unit.Format(givenU, "1", 2))
	dip := m.read["l_loop"]
	off := q.value/dip.value - 1
	if g.LPackage > 0 && math.Abs(off) > loopDoubt && math.Abs(q.value-dip.value) > 2*math.Hypot(q.u, dip.u) {
		q.warn(&waveform.Warning{Code: waveform.LoopDisagrees, Over: f.over,
			Text: fmt.Sprintf("the dip at turn-on says %s, the ringing %s with a capacitance of %s: it would have to be %s",
				unit.Format(dip.value, "H", 3), unit.Format(q.value, "H", 3), unit.Format(c, "F", 3), unit.Format(c*l/(dip.value+g.LPackage), "F", 3))})
	}
	m.read["l_loop_ring"] = q
}

// outputCapacitance reads what the device's output capacitance stores at the bus
// voltage, and the energies of the channel beside those of the terminals: what is
// stored at the turn-off is burnt at the turn-on, inside. (E_on + E_oss and E_off -
// E_oss, sum unchanged: Xiong et al. 2009, from memory; common practice.)
func (m *measurer) outputCapacitance() {
	g, bus := m.opt.Given, m.read["v_bus_off"]
	if math.IsNaN(bus.value) {
		bus = m.read["v_bus_on"]
	}
	charge, energy, how := g.CossCharge*bus.value, g.CossEnergy*bus.value*bus.value/2, "equivalent capacitance"
	if len(g.Coss) > 0 {
		charge, energy = stored(g.Coss, bus.value)
		how = fmt.Sprintf("C(V) of %d points", len(g.Coss))
	}
	m.assume("capacitances of the set-up known to %s (k = 1)", unit.Format(givenU, "1", 2))
	read := func(x float64, what string, power float64) reading {
		q := reading{value: x, over: bus.over, def: what + " at the bus voltage, from the set-up's " + how}
		if math.IsNaN(x) {
			q = missing(q.def, firstWarning(bus))
			if !math.IsNaN(bus.value) {
				q.warn(&waveform.Warning{Code: waveform.LevelNotReached, Text: fmt.Sprintf("the curve of the output capacitance ends at %s, below the bus voltage of %s",
					unit.Format(g.Coss[len(g.Coss)-1].V, "V", 4), unit.Format(bus.value, "V", 4))})
			}
			return q
		}
		q.budgeted([]result.Contribution{
			{Source: "output capacitance", U: givenU, Unit: "1", Effect: givenU * x, Scope: result.OfSetup, Basis: assumed},
			{Source: "v_bus", U: bus.u, Unit: "V", Effect: power * x * bus.u / bus.value, Scope: result.OfSetup, Basis: fromCapture},
		})
		return q
	}
	if len(g.Coss) > 0 || g.CossCharge > 0 {
		m.read["q_oss"] = read(charge, "∫C dv", 1)
	}
	if len(g.Coss) == 0 && !(g.CossEnergy > 0) {
		return
	}
	stored := read(energy, "∫C·v dv", 2)
	m.read["e_oss"] = stored
	for _, x := range []struct {
		key  string
		sign float64
	}{{"e_on", 1}, {"e_off", -1}} {
		q := m.read[x.key]
		q.warnings = nil
		q.def += ", " + map[float64]string{1: "E_oss added", -1: "E_oss taken off"}[x.sign]
		from := m.read[x.key]
		if math.IsNaN(from.value) || math.IsNaN(stored.value) {
			m.read[x.key+"_channel"] = missing(q.def, cmpWarning(from, stored))
			continue
		}
		q.value += x.sign * stored.value
		q.perDelay, q.u, q.monteCarlo = 0, 0, nil
		q.derived(uncertainty.Sum(uncertainty.Term{Factor: 1, Budget: from.budget}, uncertainty.Term{Factor: x.sign, Budget: stored.budget}), from, stored)
		m.read[x.key+"_channel"] = q
	}
}
