package result

// Column describes one reported quantity. The list below is the only place
// that names them; renderers take names, symbols, units and order from it.
type Column struct {
	Key    string
	Symbol string // with _ before a subscript: "E_on"
	IGBT   string // symbol where the device is an IGBT, "" if the same
	Unit   string // SI base unit
	Edge   Edge   // the edge it belongs to, "" for the whole shot
	Given  bool   // reported only where the set-up gives the data that it needs
	Text   bool   // in the text table, which has room for the main ones only
	Help   string // what it is, with levels
}

// Columns lists every quantity in the order of the tables.
var Columns = []Column{
	{Key: "v_bus_off", Symbol: "V_bus,off", Unit: "V", Edge: TurnOff, Text: true, Help: "settled voltage after turn-off: base of the voltage levels at turn-off"},
	{Key: "v_bus_on", Symbol: "V_bus,on", Unit: "V", Edge: TurnOn, Help: "settled voltage before turn-on: base of the voltage levels at turn-on"},
	{Key: "i_off", Symbol: "I_off", Unit: "A", Edge: TurnOff, Text: true, Help: "load current when v passes half the bus, continued from the load's ramp; not the peak"},
	{Key: "i_on", Symbol: "I_on", Unit: "A", Edge: TurnOn, Text: true, Help: "load current when i passes half of it, continued back from the load's ramp; not the peak"},
	{Key: "v_max", Symbol: "V_DS,max", IGBT: "V_CE,max", Unit: "V", Help: "largest voltage in the record, at any edge"},
	{Key: "i_max", Symbol: "I_D,max", IGBT: "I_C,max", Unit: "A", Help: "largest current in the record, at any edge"},
	{Key: "vgs_high", Symbol: "V_GS,high", IGBT: "V_GE,high", Unit: "V", Help: "settled upper gate level"},
	{Key: "vgs_low", Symbol: "V_GS,low", IGBT: "V_GE,low", Unit: "V", Help: "settled lower gate level"},
	{Key: "vgs_max", Symbol: "V_GS,max", IGBT: "V_GE,max", Unit: "V", Help: "largest gate voltage in the record"},
	{Key: "vgs_min", Symbol: "V_GS,min", IGBT: "V_GE,min", Unit: "V", Help: "smallest gate voltage in the record"},
	{Key: "t_vgs_above", Symbol: "t_GS,above", IGBT: "t_GE,above", Unit: "s", Given: true, Help: "longest stretch with the gate above the set-up's vgs_max"},
	{Key: "t_vgs_below", Symbol: "t_GS,below", IGBT: "t_GE,below", Unit: "s", Given: true, Help: "longest stretch with the gate below the set-up's vgs_min"},
	{Key: "t_vgs_above_dynamic", Symbol: "t_GS,above,dyn", IGBT: "t_GE,above,dyn", Unit: "s", Given: true, Help: "the same above vgs_max_dynamic"},
	{Key: "t_vgs_below_dynamic", Symbol: "t_GS,below,dyn", IGBT: "t_GE,below,dyn", Unit: "s", Given: true, Help: "the same below vgs_min_dynamic"},
	{Key: "vgs_other_max", Symbol: "V_GS,other,max", IGBT: "V_GE,other,max", Unit: "V", Given: true, Help: "largest gate voltage of the other device while the one under test switches"},
	{Key: "vgs_other_min", Symbol: "V_GS,other,min", IGBT: "V_GE,other,min", Unit: "V", Given: true, Help: "smallest gate voltage of the other device while the one under test switches"},
	{Key: "vgs_other_margin", Symbol: "ΔV_GS(th),other", IGBT: "ΔV_GE(th),other", Unit: "V", Given: true, Help: "the set-up's vgs_th less vgs_other_max"},
	{Key: "q_g_off", Symbol: "Q_G,off", Unit: "C", Edge: TurnOff, Given: true, Help: "charge that the gate gives back at the turn-off, from its measured current"},
	{Key: "e_g_off", Symbol: "E_G,off", Unit: "J", Edge: TurnOff, Given: true, Help: "energy that goes into the gate's sense points at the turn-off"},
	{Key: "q_g_on", Symbol: "Q_G,on", Unit: "C", Edge: TurnOn, Given: true, Help: "charge that the gate takes at the turn-on, from its measured current"},
	{Key: "e_g_on", Symbol: "E_G,on", Unit: "J", Edge: TurnOn, Given: true, Help: "energy that goes into the gate's sense points at the turn-on"},
	{Key: "e_drive", Symbol: "E_drive", Unit: "J", Given: true, Help: "(vgs_high - vgs_low)·q_g_on: what a driver between these levels spends in a cycle"},
	{Key: "vgs_plateau_off", Symbol: "V_GS(pl),off", IGBT: "V_GE(pl),off", Unit: "V", Edge: TurnOff, Help: "level that the gate keeps while v rises from 10 to 90 % of the bus; none where it moves by a tenth of its swing meanwhile"},
	{Key: "t_plateau_off", Symbol: "t_pl,off", Unit: "s", Edge: TurnOff, Help: "how long the gate stays within 5 % of its swing of that level"},
	{Key: "vgs_undershoot", Symbol: "V_GS,us", IGBT: "V_GE,us", Unit: "V", Edge: TurnOff, Help: "how far the gate goes below its settled lower level after the turn-off"},
	{Key: "vgs_plateau_on", Symbol: "V_GS(pl),on", IGBT: "V_GE(pl),on", Unit: "V", Edge: TurnOn, Help: "level that the gate keeps while v falls from 90 to 10 % of the bus"},
	{Key: "t_plateau_on", Symbol: "t_pl,on", Unit: "s", Edge: TurnOn, Help: "how long it stays within 5 % of its swing of that level"},
	{Key: "vgs_overshoot", Symbol: "V_GS,os", IGBT: "V_GE,os", Unit: "V", Edge: TurnOn, Help: "how far the gate goes above its settled upper level after the turn-on"},
	{Key: "td_off", Symbol: "t_d(off)", Unit: "s", Edge: TurnOff, Help: "turn-off delay: gate 90 % to v 10 % (MOSFET) or to i 90 % (IGBT)"},
	{Key: "t_off", Symbol: "t_off", Unit: "s", Edge: TurnOff, Help: "turn-off time: gate 90 % to v 90 % (MOSFET) or to i 10 % (IGBT), the delay and the voltage rise (current fall) after it"},
	{Key: "t_rise_v", Symbol: "t_rv", Unit: "s", Edge: TurnOff, Text: true, Help: "voltage rise at turn-off, 10 to 90 % of the bus"},
	{Key: "t_fall_i", Symbol: "t_fi", Unit: "s", Edge: TurnOff, Text: true, Help: "current fall at turn-off, 90 to 10 % of the load current"},
	{Key: "dvdt_off", Symbol: "dv/dt_off", Unit: "V/s", Edge: TurnOff, Text: true, Help: "average slope of v between 10 and 90 % of the bus at turn-off"},
	{Key: "dvdt_off_max", Symbol: "dv/dt_off,max", Unit: "V/s", Edge: TurnOff, Help: "steepest local fit to v at turn-off"},
	{Key: "didt_off", Symbol: "di/dt_off", Unit: "A/s", Edge: TurnOff, Text: true, Help: "average slope of i between 90 and 10 % of the load current at turn-off, as magnitude"},
	{Key: "didt_off_max", Symbol: "di/dt_off,max", Unit: "A/s", Edge: TurnOff, Help: "steepest local fit to i at turn-off, as magnitude"},
	{Key: "e_off", Symbol: "E_off", Unit: "J", Edge: TurnOff, Text: true, Help: "turn-off energy at the sense points over the named window"},
	{Key: "v_peak", Symbol: "V_peak", Unit: "V", Edge: TurnOff, Text: true, Help: "largest voltage after turn-off"},
	{Key: "v_overshoot", Symbol: "V_os", Unit: "1", Edge: TurnOff, Help: "(V_peak - V_bus,off) / V_bus,off"},
	{Key: "f_ring_off", Symbol: "f_ring,off", Unit: "Hz", Edge: TurnOff, Help: "frequency of the ringing of v after turn-off, as it is seen"},
	{Key: "zeta_off", Symbol: "ζ_off", Unit: "1", Edge: TurnOff, Help: "damping ratio of that ringing"},
	{Key: "t_settle_off", Symbol: "t_settle,off", Unit: "s", Edge: TurnOff, Help: "settling duration: from v 50 % to where v stays within 5 % of the bus"},
	{Key: "t_tail", Symbol: "t_tail", Unit: "s", Edge: TurnOff, Help: "from i 10 % to where the mean of i over a ring period falls below 1 % of the load current"},
	{Key: "q_tail", Symbol: "Q_tail", Unit: "C", Edge: TurnOff, Help: "charge that flows after the end of e_off's window, less what i comes to rest at"},
	{Key: "e_tail", Symbol: "E_tail", Unit: "J", Edge: TurnOff, Help: "energy that goes into the device after the end of e_off's window, for the same current"},
	{Key: "td_on", Symbol: "t_d(on)", Unit: "s", Edge: TurnOn, Help: "turn-on delay: gate 10 % to v 90 % (MOSFET) or to i 10 % (IGBT)"},
	{Key: "t_on", Symbol: "t_on", Unit: "s", Edge: TurnOn, Help: "turn-on time: gate 10 % to v 10 % (MOSFET) or to i 90 % (IGBT), the delay and the voltage fall (current rise) after it"},
	{Key: "t_rise_i", Symbol: "t_ri", Unit: "s", Edge: TurnOn, Text: true, Help: "current rise at turn-on, 10 to 90 % of the load current"},
	{Key: "t_fall_v", Symbol: "t_fv", Unit: "s", Edge: TurnOn, Text: true, Help: "voltage fall at turn-on, 90 to 10 % of the bus, from the first crossing"},
	{Key: "t_fall_v.after-i90", Symbol: "t_fv,after-i90", Unit: "s", Edge: TurnOn, Help: "voltage fall at turn-on without the L di/dt dip: from v 90 % or i 90 %, whichever is later, to v 10 %"},
	{Key: "dvdt_on", Symbol: "dv/dt_on", Unit: "V/s", Edge: TurnOn, Text: true, Help: "average slope of v between 90 and 10 % of the bus at turn-on, as magnitude"},
	{Key: "dvdt_on.after-i90", Symbol: "dv/dt_on,after-i90", Unit: "V/s", Edge: TurnOn, Help: "the same without the L di/dt dip"},
	{Key: "dvdt_on_max", Symbol: "dv/dt_on,max", Unit: "V/s", Edge: TurnOn, Help: "steepest local fit to v at turn-on, as magnitude"},
	{Key: "didt_on", Symbol: "di/dt_on", Unit: "A/s", Edge: TurnOn, Text: true, Help: "average slope of i between 10 and 90 % of the load current at turn-on"},
	{Key: "didt_on_max", Symbol: "di/dt_on,max", Unit: "A/s", Edge: TurnOn, Help: "steepest local fit to i at turn-on"},
	{Key: "e_on", Symbol: "E_on", Unit: "J", Edge: TurnOn, Text: true, Help: "turn-on energy at the sense points over the named window"},
	{Key: "i_peak", Symbol: "I_peak", Unit: "A", Edge: TurnOn, Text: true, Help: "largest current from i 90 % to the later of v 10 % and the first return of i to the load current"},
	{Key: "i_overshoot", Symbol: "I_os", Unit: "1", Edge: TurnOn, Help: "(I_peak - I_on) / I_on"},
	{Key: "i_rrm", Symbol: "I_RRM", Unit: "A", Edge: TurnOn, Help: "peak of the freewheeling device's reverse current: largest i above the load current"},
	{Key: "t_rr", Symbol: "t_rr", Unit: "s", Edge: TurnOn, Help: "from where i exceeds the load current to its return"},
	{Key: "q_rr", Symbol: "Q_rr", Unit: "C", Edge: TurnOn, Help: "charge of that lobe, capacitive charge included"},
	{Key: "s_rr", Symbol: "S_rr", Unit: "1", Edge: TurnOn, Help: "softness t_b/t_a: from the recovery's peak to its end, over from zero to the peak"},
	{Key: "rrsf", Symbol: "RRSF", Unit: "1", Edge: TurnOn, Help: "softness as a ratio of slopes: di/dt at zero over the steepest di/dt after the recovery's peak"},
	{Key: "didt_f", Symbol: "di_F/dt", Unit: "A/s", Edge: TurnOn, Help: "slope of the current where the freewheeling device's passes zero"},
	{Key: "didt_rr", Symbol: "di_rr/dt", Unit: "A/s", Edge: TurnOn, Help: "steepest fall of the reverse current after its peak, as magnitude"},
	{Key: "e_rr", Symbol: "E_rr", IGBT: "E_rec", Unit: "J", Edge: TurnOn, Help: "energy that goes into the freewheeling device, from zero to 2 % of its peak reverse current"},
	{Key: "f_ring_on", Symbol: "f_ring,on", Unit: "Hz", Edge: TurnOn, Help: "frequency of the ringing of i after turn-on, as it is seen"},
	{Key: "zeta_on", Symbol: "ζ_on", Unit: "1", Edge: TurnOn, Help: "damping ratio of that ringing"},
	{Key: "t_settle_on", Symbol: "t_settle,on", Unit: "s", Edge: TurnOn, Help: "settling duration: from i 50 % to where i stays within 5 % of the load current"},
	{Key: "e_tot", Symbol: "E_tot", Unit: "J", Help: "e_on + e_off; a lag between the channels drops out of it to first order"},
	{Key: "l_load", Symbol: "L_load", Unit: "H", Help: "load inductance from the ramp of the first pulse"},
	{Key: "load_bend", Symbol: "bend_load", Unit: "1", Help: "departure of that ramp from a straight line: relative change of its slope from start to end"},
	{Key: "l_loop", Symbol: "L_loop", Unit: "H", Help: "loop inductance outside the sense points, from the dip of v while the current rises at turn-on; within 1 % on simulated half bridges"},
	{Key: "l_loop_overshoot", Symbol: "L_loop,os", Unit: "H", Edge: TurnOff, Help: "the same from the overshoot of v at turn-off; the freewheeling device's capacitance and forward recovery and the loop's resistance are in it, and it read 1 to 3 % low on simulated half bridges"},
	{Key: "l_loop_spread", Symbol: "δL_loop", Unit: "1", Edge: TurnOff, Help: "how far these two are apart: l_loop_overshoot / l_loop - 1"},
	{Key: "l_loop_ring", Symbol: "L_loop,ring", Unit: "H", Given: true, Help: "inductance of the loop from its ringing after turn-off, with c_ring, or c_added and f_added, of the set-up; with the device's package unless l_package is given; 1 % low on simulated half bridges whose capacitance is known, and off by as much as the capacitance is"},
	{Key: "c_ring", Symbol: "C_ring", Unit: "F", Given: true, Help: "capacitance that the loop rings with after turn-off, from this ring and that with c_added"},
	{Key: "l_loop_bare", Symbol: "L_loop,bare", Unit: "H", Given: true, Help: "l_loop less the l_insert of the current sensor, which is a part of the loop while it measures"},
	{Key: "q_oss", Symbol: "Q_oss", IGBT: "Q_oes", Unit: "C", Given: true, Help: "charge of the output capacitance at the bus voltage, from the set-up's c_oss or c_oss_tr"},
	{Key: "e_oss", Symbol: "E_oss", IGBT: "E_oes", Unit: "J", Given: true, Help: "energy stored in it, from the set-up's c_oss or c_oss_er"},
	{Key: "e_off_channel", Symbol: "E_off,ch", Unit: "J", Given: true, Help: "turn-off energy of the channel: e_off less e_oss, which is stored"},
	{Key: "e_on_channel", Symbol: "E_on,ch", Unit: "J", Given: true, Help: "turn-on energy of the channel: e_on and e_oss, which is burnt inside"},
	{Key: "v_sag", Symbol: "ΔV_sag", Unit: "V", Edge: TurnOff, Help: "fall of the bus from before the first pulse to after the turn-off, both at rest; the freewheeling device's forward voltage is on the latter"},
	{Key: "v_recovery", Symbol: "ΔV_rec", Unit: "V", Edge: TurnOn, Help: "rise of the bus over the gap before the turn-on: slope of v at rest times the length of the gap"},
	{Key: "c_bus", Symbol: "C_bus", Unit: "F", Given: true, Help: "capacitance of the bank that the sag tells: ∫ i dt over the pulses / v_sag; where the set-up gives circuit.c_bus to compare"},
	{Key: "v_ds_on", Symbol: "V_DS(on)", IGBT: "V_CE(on)", Unit: "V", Edge: TurnOn, Help: "on-state voltage at a stated delay after turn-on, where the channel can resolve it"},
	{Key: "r_ds_on", Symbol: "R_DS(on)", Unit: "ohm", Edge: TurnOn, Given: true, Help: "dynamic on-resistance v/i at that delay; of a MOSFET"},
	{Key: "e_load", Symbol: "E_load", Unit: "J", Edge: TurnOff, Help: "energy stored in the load at the turn-off: ½ L i_off², L from the set-up's l_load, else from the ramp"},
	{Key: "e_bank", Symbol: "E_bank", Unit: "J", Given: true, Help: "energy stored in the bank before the first pulse, from the set-up's c_bus"},
	{Key: "e_bus", Symbol: "E_bus", Unit: "J", Edge: TurnOff, Help: "energy that the bus gave up to the turn-off"},
	{Key: "e_dut", Symbol: "E_DUT", Unit: "J", Edge: TurnOff, Help: "energy that went into the device under test up to then, on-state included, at the sense points"},
	{Key: "e_rest", Symbol: "E_rest", Unit: "J", Edge: TurnOff, Help: "e_bus - e_dut - e_load: lost in load, loop and freewheeling device, and what does not close"},
	{Key: "balance", Symbol: "E_rest/E_bus", Unit: "1", Edge: TurnOff, Help: "e_rest / e_bus: closure error of the energy balance, losses beside the device included"},
	{Key: "v_other_peak", Symbol: "V_other,peak", Unit: "V", Edge: TurnOn, Given: true, Help: "largest voltage of the freewheeling device after the turn-on, at its sense points"},
	{Key: "dvdt_other", Symbol: "dv/dt_other", Unit: "V/s", Edge: TurnOn, Given: true, Help: "average slope of v_other between 10 and 90 % of the bus at turn-on"},
	{Key: "v_frm", Symbol: "V_FRM", Unit: "V", Edge: TurnOff, Given: true, Help: "peak forward recovery voltage of the freewheeling device: largest -v_other after the turn-off"},
	{Key: "t_dead_off", Symbol: "t_dead,off", Unit: "s", Edge: TurnOff, Given: true, Help: "dead time at turn-off: from the gate at 50 % to the freewheeling device's gate at 50 %; negative where they overlap"},
	{Key: "t_dead_on", Symbol: "t_dead,on", Unit: "s", Edge: TurnOn, Given: true, Help: "dead time at turn-on: from the freewheeling device's gate at 50 % to the gate at 50 %; negative where they overlap"},
	{Key: "i_branch_off", Symbol: "I_branch,off", Unit: "A", Edge: TurnOff, Given: true, Help: "current of a branch of parallel devices (.id_1 and so on) where the turn-off begins"},
	{Key: "i_branch_on", Symbol: "I_branch,on", Unit: "A", Edge: TurnOn, Given: true, Help: "current of a branch once it has settled after the turn-on"},
	{Key: "i_branch_peak", Symbol: "I_branch,peak", Unit: "A", Edge: TurnOn, Given: true, Help: "largest current of a branch over the stretch of i_peak"},
	{Key: "i_share_off", Symbol: "s_i,off", Unit: "1", Edge: TurnOff, Given: true, Help: "a branch's part of the sum of the branch currents where the turn-off begins"},
	{Key: "i_share_on", Symbol: "s_i,on", Unit: "1", Edge: TurnOn, Given: true, Help: "the same once the currents have settled after the turn-on"},
	{Key: "i_spread_off", Symbol: "δi_off", Unit: "1", Edge: TurnOff, Given: true, Help: "spread of the branch currents where the turn-off begins: largest less smallest, relative to their mean"},
	{Key: "i_spread_on", Symbol: "δi_on", Unit: "1", Edge: TurnOn, Given: true, Help: "the same once they have settled after the turn-on"},
	{Key: "i_sum_off", Symbol: "δΣi_off", Unit: "1", Edge: TurnOff, Given: true, Help: "sum of the branch currents over the total measured beside them, less one"},
	{Key: "e_branch_off", Symbol: "E_branch,off", Unit: "J", Edge: TurnOff, Given: true, Help: "turn-off energy of a branch over the window of e_off"},
	{Key: "e_branch_on", Symbol: "E_branch,on", Unit: "J", Edge: TurnOn, Given: true, Help: "turn-on energy of a branch over the window of e_on"},
	{Key: "e_spread_off", Symbol: "δE_off", Unit: "1", Edge: TurnOff, Given: true, Help: "spread of the branches' turn-off energies, relative to their mean"},
	{Key: "e_spread_on", Symbol: "δE_on", Unit: "1", Edge: TurnOn, Given: true, Help: "spread of the branches' turn-on energies, relative to their mean"},
	{Key: "t_branch_off", Symbol: "t_branch,off", Unit: "s", Edge: TurnOff, Given: true, Help: "when a branch passes half of its current at turn-off, relative to the mean of all"},
	{Key: "t_branch_on", Symbol: "t_branch,on", Unit: "s", Edge: TurnOn, Given: true, Help: "when a branch passes half of its current at turn-on, relative to the mean of all"},
	{Key: "t_spread_off", Symbol: "δt_off", Unit: "s", Edge: TurnOff, Given: true, Help: "from the first to the last branch that passes half of its current at turn-off"},
	{Key: "t_spread_on", Symbol: "δt_on", Unit: "s", Edge: TurnOn, Given: true, Help: "from the first to the last branch that passes half of its current at turn-on"},
	{Key: "delay_v_other", Symbol: "t_delay,v_other", Unit: "s", Given: true, Help: "total lag of v_other behind the voltage channel, from v + v_other = v_bus at the turn-off"},
	{Key: "delay_i_other", Symbol: "t_delay,i_other", Unit: "s", Given: true, Help: "total lag of i_other behind the current channel, from i + i_other = i_load at the turn-off"},
	{Key: "delay_id", Symbol: "t_delay,i", Unit: "s", Help: "total lag of the current channel behind the voltage channel, from the loop's equation"},
	{Key: "delay_vgs", Symbol: "t_delay,g", Unit: "s", Help: "total lag of the gate channel behind the voltage channel"},
}

// ColumnOf returns the column whose key is this one, not its stem.
func ColumnOf(key string) (Column, bool) {
	for _, c := range Columns {
		if c.Key == key {
			return c, true
		}
	}
	return Column{}, false
}

// FindColumn returns the column of that key. A key of a named window, such as
// "e_on.i10-v10", has the column of its stem.
func FindColumn(key string) (Column, bool) {
	if c, ok := ColumnOf(key); ok {
		return c, true
	}
	for i, r := range key {
		if r == '.' {
			return FindColumn(key[:i])
		}
	}
	return Column{}, false
}

// Symbol returns the symbol of a quantity, "_" before its subscript. A named window keeps
// its suffix in the subscript; a key that no column knows is its own symbol.
func Symbol(key string, igbt bool) string {
	c, ok := FindColumn(key)
	if !ok {
		return key
	}
	text := c.Symbol
	if igbt && c.IGBT != "" {
		text = c.IGBT
	}
	if key != c.Key {
		text += "," + key[len(c.Key)+1:]
	}
	return text
}
