package reports

import (
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// The sketches show where the levels of a definition lie: a number stands where a
// signal passes a level, in per cent of its base.
const (
	turnOffSketch = `
   gate ‾‾‾‾\90
             \________10______
   v              ___/‾‾‾‾‾‾‾‾  100 = V_bus,off
        ____2_10_/90
   i    ‾‾‾‾‾‾‾‾‾‾‾‾‾\90          100 = I_off
                      \10_2____
        ------------------------> t
`
	turnOnSketch = `
   gate           ________90____
        ____10___/
   i                 90_/‾‾\___   100 = I_on; the hump is recovery
        ________2_10/
   v    ‾‾‾‾‾‾‾‾‾‾‾‾‾\_dip_
                       90  \10_2  100 = V_bus,on
        ------------------------> t
`
	recoverySketch = `
   i_rr        peak
              /\ 90
             /  \ 75
            /    \ 50
           /      \ 25
      ____/0       \__10__2__0_   i less the load current
           t_a  | t_b
`
	ringSketch = `
   v or i   peak
             /\
            /  \    /\          envelope: exp(-a·t)
   ________/____\__/__\__/\_    level at rest
          /      \/    \/
         /   |<-- 1/f ->|  the fit begins half a period after the peak, at 40 %
        /                  of it; settled: within 5 % for good
        -----------------------> t
`
	tailSketch = `
   i    ‾‾‾‾‾\
              \10
               \2__             <- the window of e_off ends here
                   ‾‾‾--.._1____   tail: from there to rest
        ------------------------> t
`
	recordSketch = `
   gate ____/‾‾‾‾‾‾‾‾‾‾‾‾‾\_____/‾‾‾‾‾\____   high, low: at rest
   v    ‾‾‾‾‾\____________/‾‾‾‾‾\_____/‾‾‾‾   V_bus: at rest while blocking
   i              ___---‾‾|     |_--‾‾|       ramp: (V_bus - v)/L_load
        _____.--‾‾        |_____|     |____   zero: before the first pulse
             pulse 1       gap   pulse 2
        -----------------------------------> t
`
)

// ringing lists the columns that are read off the ringing or the peak before it.
var ringing = []string{"v_peak", "v_overshoot", "f_ring_off", "zeta_off", "t_settle_off", "f_ring_on", "zeta_on", "t_settle_on", "l_loop_overshoot", "l_loop_ring", "c_ring"}

// sketch returns the sketch of a column.
func sketch(c result.Column) string {
	switch {
	case strings.HasSuffix(c.Key, "_tail"):
		return tailSketch
	case slices.Contains(ringing, c.Key):
		return ringSketch
	case strings.HasSuffix(c.Key, "_rr"), c.Key == "i_rrm", c.Key == "rrsf", c.Key == "didt_f":
		return recoverySketch
	case c.Edge == result.TurnOff, c.Key == "e_off_channel":
		return turnOffSketch
	case c.Edge == result.TurnOn, c.Key == "e_on_channel", c.Key == "l_loop", c.Key == "l_loop_bare":
		return turnOnSketch
	}
	return recordSketch
}
