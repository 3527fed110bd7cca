package model

import "testing"

// The partner by Kirchhoff's laws: in a gap it carries the load at a forward voltage of a
// few volts, while the device conducts it blocks the bus; its voltage, that of the device
// and that of the loop make the bus at every instant.
func TestPartnerWaveforms(t *testing.T) {
	s := Demo(600, 50)
	w := s.Waveforms()
	gap, pulse := w.Commands[2].T-0.2e-6, w.Commands[1].T-0.2e-6
	near(t, "i_other in the gap", w.IOther(gap), w.Load(gap), 0.1)
	near(t, "v_other in the gap", w.VOther(gap), -s.Partner.Vf, 2)
	near(t, "v_other in the pulse", w.VOther(pulse), w.Bus(pulse)-w.V(pulse), 3)
	near(t, "i_other in the pulse", w.IOther(pulse), 0, 0.1)
	a := Known(w, DemoInstrument().WithPartner()).Values
	if a["v_other_peak"].Value < 600 || a["v_frm"].Value < s.Partner.Vf || a["i_rrm"].Value < 1 || a["q_rr"].Value <= 0 {
		t.Errorf("%+v %+v %+v %+v", a["v_other_peak"], a["v_frm"], a["i_rrm"], a["q_rr"])
	}
	if _, ok := Known(w, DemoInstrument()).Values["v_frm"]; ok {
		t.Error("an answer of a channel that is not recorded")
	}
}
