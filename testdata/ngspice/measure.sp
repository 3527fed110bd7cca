*ng_script
* Measures one double pulse, after `run`, with the simulator's own meas
* commands. The netlist that sources this file has set, in the current plot:
*   vds, id, vgs  drain-source voltage, drain current, gate-source voltage
*   il            current of the load inductor
*   cmd_off       instant of the gate's command at the first turn-off
*   cmd_on        instant of the gate's command at the second turn-on
*   igbt          1 if delays are those of an IGBT (gate to current)
*   peak          1 if the current overshoots at turn-on
* Every crossing is the first one after the command. Levels are fractions of
* values that the simulator found itself, hence two passes: bases, then edges.

* Bases. The bus is settled at the end of the gap; the gate before each command.
let gap = cmd_on - cmd_off
let late = cmd_on - 0.2*gap
meas tran v_bus_off AVG vds from=$&late to=$&cmd_on
let v_bus_on = v_bus_off
let before = cmd_off - 10n
meas tran vgs_high FIND vgs AT=$&before
let before = cmd_on - 10n
meas tran vgs_low FIND vgs AT=$&before
meas tran vgs_max MAX vgs
meas tran vgs_min MIN vgs

* Load current: of the inductor itself, when v (turn-off) or i (turn-on) is half way.
let lv = 0.5*v_bus_off
meas tran i_off FIND il WHEN vds=$&lv RISE=1 TD=$&cmd_off
let ilh = 0.5*il
meas tran i_on_half FIND ilh WHEN id=ilh RISE=1 TD=$&cmd_on
let i_on = 2*i_on_half

* Turn-off.
foreach p 2 5 10 90
  let lv = $p/100*v_bus_off
  let li = $p/100*i_off
  meas tran off_v$p WHEN vds=$&lv RISE=1 TD=$&cmd_off
  meas tran off_i$p WHEN id=$&li FALL=1 TD=$&cmd_off
end
let lg = vgs_low + 0.9*(vgs_high - vgs_low)
meas tran off_g90 WHEN vgs=$&lg FALL=1 TD=$&cmd_off
meas tran v_peak MAX vds from=$&cmd_off to=$&cmd_on

* Turn-on.
foreach p 2 5 10 90
  let lv = $p/100*v_bus_on
  let li = $p/100*i_on
  meas tran on_v$p WHEN vds=$&lv FALL=1 TD=$&cmd_on
  meas tran on_i$p WHEN id=$&li RISE=1 TD=$&cmd_on
end
let lg = vgs_low + 0.1*(vgs_high - vgs_low)
meas tran on_g10 WHEN vgs=$&lg RISE=1 TD=$&cmd_on

* Durations, in meas' own form since it keeps seven digits of an instant.
let v1 = 0.1*v_bus_off
let v9 = 0.9*v_bus_off
let i1 = 0.1*i_off
let i9 = 0.9*i_off
let g9 = vgs_low + 0.9*(vgs_high - vgs_low)
meas tran t_rise_v TRIG vds VAL=$&v1 RISE=1 TD=$&cmd_off TARG vds VAL=$&v9 RISE=1 TD=$&cmd_off
meas tran t_fall_i TRIG id VAL=$&i9 FALL=1 TD=$&cmd_off TARG id VAL=$&i1 FALL=1 TD=$&cmd_off
if igbt
  meas tran td_off TRIG vgs VAL=$&g9 FALL=1 TD=$&cmd_off TARG id VAL=$&i9 FALL=1 TD=$&cmd_off
else
  meas tran td_off TRIG vgs VAL=$&g9 FALL=1 TD=$&cmd_off TARG vds VAL=$&v1 RISE=1 TD=$&cmd_off
end
let v1 = 0.1*v_bus_on
let v9 = 0.9*v_bus_on
let i1 = 0.1*i_on
let i9 = 0.9*i_on
let g1 = vgs_low + 0.1*(vgs_high - vgs_low)
meas tran t_rise_i TRIG id VAL=$&i1 RISE=1 TD=$&cmd_on TARG id VAL=$&i9 RISE=1 TD=$&cmd_on
meas tran t_fall_v TRIG vds VAL=$&v9 FALL=1 TD=$&cmd_on TARG vds VAL=$&v1 FALL=1 TD=$&cmd_on
if igbt
  meas tran td_on TRIG vgs VAL=$&g1 RISE=1 TD=$&cmd_on TARG id VAL=$&i1 RISE=1 TD=$&cmd_on
else
  meas tran td_on TRIG vgs VAL=$&g1 RISE=1 TD=$&cmd_on TARG vds VAL=$&v9 FALL=1 TD=$&cmd_on
end
let dvdt_off = 0.8*v_bus_off/t_rise_v
let didt_off = 0.8*i_off/t_fall_i
let dvdt_on = 0.8*v_bus_on/t_fall_v
let didt_on = 0.8*i_on/t_rise_i
let v_overshoot = (v_peak - v_bus_off)/v_bus_off

* Energies.
let p = vds*id
meas tran e_off_v10_i2 INTEG p from=$&off_v10 to=$&off_i2
meas tran e_off_v10_i10 INTEG p from=$&off_v10 to=$&off_i10
meas tran e_off_v5_i5 INTEG p from=$&off_v5 to=$&off_i5
meas tran e_off_g90_i2 INTEG p from=$&off_g90 to=$&off_i2
meas tran e_on_i10_v2 INTEG p from=$&on_i10 to=$&on_v2
meas tran e_on_i10_v10 INTEG p from=$&on_i10 to=$&on_v10
meas tran e_on_i10_v5 INTEG p from=$&on_i10 to=$&on_v5
meas tran e_on_i5_v5 INTEG p from=$&on_i5 to=$&on_v5
meas tran e_on_g10_v2 INTEG p from=$&on_g10 to=$&on_v2

print v_bus_off v_bus_on i_off i_on vgs_high vgs_low vgs_max vgs_min
print off_g90 off_v10 off_v90 off_i90 off_i10 off_i2
print on_g10 on_i10 on_i90 on_v90 on_v10 on_v2
print td_off t_rise_v t_fall_i dvdt_off didt_off v_peak v_overshoot
print td_on t_rise_i t_fall_v dvdt_on didt_on
print e_off_v10_i2 e_off_v10_i10 e_off_v5_i5 e_off_g90_i2
print e_on_i10_v2 e_on_i10_v10 e_on_i10_v5 e_on_i5_v5 e_on_g10_v2

* Peak current: from i 90 % to the later of v 10 % and the return of i to the
* load current. The ideal circuit has no such return.
if peak
  meas tran on_back WHEN id=il FALL=1 TD=$&on_i90
  let to = on_back
  if on_v10 gt on_back
    let to = on_v10
  end
  meas tran i_peak MAX id from=$&on_i90 to=$&to
  let i_overshoot = (i_peak - i_on)/i_on
  print i_peak i_overshoot
end
