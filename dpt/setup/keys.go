package setup

import (
	"errors"
	"strings"

	"slewbook/dpt/result"
)

// key describes one key of the file.
type key struct {
	table   string // "channel" stands for [channel.ROLE]
	name    string
	unit    string // of a quantity; roleUnit for the unit of the channel's role; "" where it has none
	check   check
	help    string
	example string
	preset  string // default, as the template tells it
	// target points to the field: *float64, *int, *bool or *string.
	target func(s *Setup, c *Channel) any
	// record is the key in the record of conditions, "" if it is not in it.
	record string
	// only bounds the roles that may have the key.
	only roleSet
}

// roleSet says which roles may have a key of a channel.
type roleSet int

const (
	allRoles     roleSet = iota
	currentRoles         // those of currents
	drainCurrent         // id (ic) alone
)

// roleUnit stands for V or A, as the channel's role has it.
const roleUnit = "V or A"

// check bounds a value.
type check int

const (
	anyValue check = iota
	positive
	notNegative
	notZero
	share    // 0 to 100 %
	bitCount // 1 to 32
	deviceKind
	windowOff
	windowOn
	definitionSet
	definitionChoice
	levelMethod
	filterWords
	countOf // a whole number of shots
	curveWords
	cornerWords
	namePattern
	accuracyWords
	dateWords
)

// keys lists every key of the file, in the order of the template.
var keys = []key{
	{table: "channel", name: "source", help: "name of the trace in the capture file", example: "CH2", preset: "found from names, units and behaviour",
		target: func(_ *Setup, c *Channel) any { return &c.Source }},
	{table: "channel", name: "scale", check: notZero, help: "factor that is still to be applied; probe factors that the file has applied already are not repeated", example: "1.0", preset: "1.0",
		target: func(_ *Setup, c *Channel) any { return &c.Scale }},
	{table: "channel", name: "invert", help: "change the sign, after scaling", example: "false", preset: "false",
		target: func(_ *Setup, c *Channel) any { return &c.Invert }},
	{table: "channel", name: "offset", unit: roleUnit, help: "taken off the samples, after scale and sign", example: "0", preset: "0",
		target: func(_ *Setup, c *Channel) any { return &c.Offset }},
	{table: "channel", name: "delay", unit: "s", help: "lag of the channel: one that lags by d reads x(t - d)", example: "0 ns", preset: "0 ns",
		target: func(_ *Setup, c *Channel) any { return &c.Delay }},
	{table: "channel", name: "bandwidth", unit: "Hz", check: positive, help: "of probe and scope together", example: "500 MHz", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Bandwidth }},
	{table: "channel", name: "gain_u", unit: "1", check: share, help: "standard uncertainty of the gain", example: "0.5 %", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.GainU }},
	{table: "channel", name: "offset_u", unit: roleUnit, check: notNegative, help: "standard uncertainty of the zero", example: "1.5", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.OffsetU }},
	{table: "channel", name: "delay_u", unit: "s", check: notNegative, help: "standard uncertainty of the delay, against vds", example: "0.5 ns", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.DelayU }},
	{table: "channel", name: "accuracy", check: accuracyWords, help: "specification of probe and scope together: bounds (any error within is as likely as another), or with \", k = 2\" behind it what its coverage is; gain_u and offset_u count before it", example: "1 % of reading + 0.5 % of range", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Accuracy }},
	{table: "channel", name: "gain_ref", help: "name of what the gain was calibrated against; channels of one reference are off together", example: "invented reference 1", preset: "each on its own",
		target: func(_ *Setup, c *Channel) any { return &c.GainRef }},
	{table: "channel", name: "calibrated", check: dateWords, help: "day of its calibration", example: "2026-03-01", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Calibrated }},
	{table: "channel", name: "due", check: dateWords, help: "day of the next calibration, given together with calibrated", example: "2027-03-01", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Due }},
	{table: "channel", name: "drift", unit: "1", check: share, help: "most that the gain moves between calibrations; counts by the age at conditions.date, whole without it", example: "0.3 %", preset: "none",
		target: func(_ *Setup, c *Channel) any { return &c.Drift }},
	{table: "channel", name: "bits", check: bitCount, help: "resolution of the converter", example: "12", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Bits }},
	{table: "channel", name: "range", unit: roleUnit, check: positive, help: "full input range, peak to peak; gives resolution and accuracy", example: "1200", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Range }},
	{table: "channel", name: "range_min", unit: roleUnit, help: "lower end of the range as the file has it; samples at or below it are over range", example: "-200", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.RangeMin }},
	{table: "channel", name: "range_max", unit: roleUnit, help: "upper end of the range as the file has it, given together with range_min", example: "1000", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.RangeMax }},
	{table: "channel", name: "filter", check: filterWords, help: `zero-phase filter: "gauss 200 MHz", "butter 4 100 MHz" (forward and backward; "butter 4 bw 100 MHz": -3 dB of both), "sg 11 3" (Savitzky-Golay), "mean 9", "median 5"`, example: "gauss 200 MHz", preset: "none",
		target: func(_ *Setup, c *Channel) any { return &c.Filter }},
	{table: "channel", name: "shunt_r", unit: "ohm", check: positive, only: currentRoles, help: "resistance of the shunt whose voltage over it is the current in the file; with shunt_l, L·di/dt + R·i = u is solved", example: "10 mohm", preset: "no shunt",
		target: func(_ *Setup, c *Channel) any { return &c.ShuntR }},
	{table: "channel", name: "shunt_l", unit: "H", check: positive, only: currentRoles, help: "inductance of the shunt between its sense points, given together with shunt_r", example: "1 nH", preset: "no shunt",
		target: func(_ *Setup, c *Channel) any { return &c.ShuntL }},
	{table: "channel", name: "droop", unit: "s", check: positive, only: drainCurrent, help: "time constant of the coil's or transformer's droop (1/(2·pi·lower corner)), which is taken out by integration", example: "500 us", preset: "left in",
		target: func(_ *Setup, c *Channel) any { return &c.Droop }},
	{table: "channel", name: "l_insert", unit: "H", check: positive, only: drainCurrent, help: "inductance that the sensor puts into the loop; l_loop_bare is l_loop without it", example: "1.5 nH", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.LInsert }},

	{table: "file", name: "interval", unit: "s", check: positive, help: "sample interval of files that hold no time; where they do, theirs counts", example: "0.8 ns", preset: "as in the file",
		target: func(s *Setup, _ *Channel) any { return &s.File.Interval }},
	{table: "file", name: "start", unit: "s", help: "time of the first sample of such files", example: "-1 µs", preset: "0 s",
		target: func(s *Setup, _ *Channel) any { return &s.File.Start }},
	{table: "file", name: "separate", help: "every file is a capture of its own, also where a folder looks like one shot with a file for each channel", example: "false", preset: "false",
		target: func(s *Setup, _ *Channel) any { return &s.File.Separate }},

	{table: "file", name: "pattern", check: namePattern, help: "form of the captures' names, with the conditions in braces, and their units where the names have none", example: "{device}/{v_bus}_{i_load}_{tj (°C)}", preset: "names tell nothing",
		target: func(s *Setup, _ *Channel) any { return &s.File.Pattern }},

	{table: "device", name: "kind", check: deviceKind, help: `"mosfet" or "igbt"; decides what the delays mean`, example: "mosfet", preset: "mosfet", record: "kind",
		target: func(s *Setup, _ *Channel) any { return &s.Device.Kind }},
	{table: "device", name: "name", help: "type, lot and number of the device", example: "invented device, sample 3", preset: "not given", record: "device",
		target: func(s *Setup, _ *Channel) any { return &s.Device.Name }},
	{table: "device", name: "v_max", unit: "V", check: positive, help: "rated drain-source (collector-emitter) voltage", example: "1200 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VMax }},
	{table: "device", name: "i_max", unit: "A", check: positive, help: "rated drain (collector) current", example: "60 A", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.IMax }},
	{table: "device", name: "rbsoa", check: cornerWords, help: "corners of the reverse-bias safe operating area, current at voltage, for the switching locus", example: "1000 V: 240 A, 1200 V: 120 A", preset: "not drawn",
		target: func(s *Setup, _ *Channel) any { return &s.Device.RBSOA }},
	{table: "device", name: "vgs_max", unit: "V", check: notZero, help: "largest static gate voltage", example: "20 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsMax }},
	{table: "device", name: "vgs_min", unit: "V", check: notZero, help: "smallest static gate voltage", example: "-8 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsMin }},
	{table: "device", name: "vgs_max_dynamic", unit: "V", check: notZero, help: "largest gate voltage in a transient", example: "24 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsMaxDynamic }},
	{table: "device", name: "vgs_min_dynamic", unit: "V", check: notZero, help: "smallest gate voltage in a transient", example: "-12 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsMinDynamic }},
	{table: "device", name: "vgs_th", unit: "V", check: notZero, help: "lowest gate threshold at the temperature of the test; that of the idle device is taken for the same", example: "1.8 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsTh }},
	{table: "device", name: "dvdt_max", unit: "V/s", check: positive, help: "largest voltage slope that the device, or what is connected to it, may see", example: "100 kV/us", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.DvdtMax }},
	{table: "device", name: "didt_max", unit: "A/s", check: positive, help: "largest current slope that it may see", example: "8 A/ns", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.DidtMax }},
	{table: "device", name: "l_package", unit: "H", check: notNegative, help: "inductance between the sense points and the chip", example: "3 nH", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.LPackage }},
	{table: "device", name: "r_on", unit: "ohm", check: notNegative, help: "on-state resistance, for the plan", example: "12 mohm", preset: "left out",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.ROn }},
	{table: "device", name: "v_f", unit: "V", check: notNegative, help: "forward voltage of the freewheeling device, for the plan", example: "2.5 V", preset: "left out",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.VF }},
	{table: "device", name: "z_th", unit: "K/W", check: positive, help: "transient thermal impedance of a short pulse, for the plan", example: "0.01 K/W", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Zth }},
	{table: "device", name: "z_th_at", unit: "s", check: positive, help: "duration of the pulse that z_th belongs to", example: "100 us", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.ZthAt }},
	{table: "device", name: "tj_max", unit: "K", help: "rated junction temperature", example: "175 °C", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.TjMax }},
	{table: "device", name: "r_base", unit: "ohm", check: positive, help: "resistance of the freewheeling device's body, the base of its parasitic transistor, for the plan", example: "50 mohm", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.RBase }},
	{table: "device", name: "c_base", unit: "F", check: positive, help: "capacitance from its drain to its body", example: "200 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.CBase }},
	{table: "device", name: "v_base", unit: "V", check: positive, help: "voltage at which that transistor turns on", example: "0.7 V", preset: "0.7 V",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.VBase }},
	{table: "device", name: "c_oss", check: curveWords, help: "output capacitance by voltage, from 0 V to the bus voltage and beyond", example: "0 V: 2.1 nF, 50 V: 400 pF, 1000 V: 150 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.Coss }},
	{table: "device", name: "c_oss_er", unit: "F", check: positive, help: "in place of the curve: energy-equivalent output capacitance at the bus voltage", example: "180 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.CossEnergy }},
	{table: "device", name: "c_oss_tr", unit: "F", check: positive, help: "in place of the curve: charge-equivalent output capacitance at the bus voltage", example: "260 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.CossCharge }},

	{table: "circuit", name: "rg_on", unit: "ohm", check: notNegative, help: "external gate resistor at turn-on", example: "4.7 ohm", preset: "not given", record: "rg_on",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.RgOn }},
	{table: "circuit", name: "rg_off", unit: "ohm", check: notNegative, help: "external gate resistor at turn-off", example: "2.2 ohm", preset: "not given", record: "rg_off",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.RgOff }},
	{table: "circuit", name: "rg_internal", unit: "ohm", check: notNegative, help: "gate resistance inside the device", example: "1.5 ohm", preset: "not given", record: "rg_internal",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.RgInternal }},
	{table: "circuit", name: "l_loop", unit: "H", check: notNegative, help: "loop inductance outside the sense points, where it is known", example: "20 nH", preset: "not given", record: "l_loop",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.LLoop }},
	{table: "circuit", name: "l_load", unit: "H", check: positive, help: "load inductance", example: "100 µH", preset: "not given", record: "l_load",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.LLoad }},
	{table: "circuit", name: "c_bus", unit: "F", check: positive, help: "bus capacitance", example: "40 µF", preset: "not given", record: "c_bus",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.CBus }},
	{table: "circuit", name: "v_bus", unit: "V", check: positive, help: "planned bus voltage", example: "800 V", preset: "not given", record: "v_bus",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.VBus }},
	{table: "circuit", name: "c_ring", unit: "F", check: positive, help: "capacitance that the loop rings with after the turn-off: the device's at the bus voltage, probe and board", example: "230 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.CRing }},
	{table: "circuit", name: "c_added", unit: "F", check: positive, help: "in place of c_ring: capacitance put across the device in another shot, which then rang with f_added", example: "690 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.CAdded }},
	{table: "circuit", name: "f_added", unit: "Hz", check: positive, help: "frequency of the ringing in that shot, given together with c_added", example: "25 MHz", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.FAdded }},
	{table: "circuit", name: "freewheel", help: "what freewheels: body diode, SiC diode, synchronous ...; free words", example: "body diode", preset: "not given", record: "freewheel",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.Freewheel }},

	{table: "insulation", name: "pd_inception", unit: "V", check: positive, help: "inception voltage of partial discharge, rms at power frequency; its peak is compared with that of the switched voltage", example: "2.5 kV", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Insulation.PDInception }},

	{table: "conditions", name: "tj", unit: "K", help: "junction temperature", example: "25 °C", preset: "not given", record: "tj",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Tj }},
	{table: "conditions", name: "tc", unit: "K", help: "case temperature", example: "25 °C", preset: "not given", record: "tc",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Tc }},
	{table: "conditions", name: "date", check: dateWords, help: "day of the test", example: "2026-11-25", preset: "not given", record: "date",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Date }},
	{table: "conditions", name: "position", help: "of the device: low side, high side; free words", example: "low side", preset: "not given", record: "position",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Position }},

	{table: "energy", name: "window_off", check: windowOff, help: "energy window at turn-off: " + result.WindowNames(result.TurnOff), example: "v10-i2", preset: "v10-i2",
		target: func(s *Setup, _ *Channel) any { return &s.Energy.WindowOff }},
	{table: "energy", name: "window_on", check: windowOn, help: "energy window at turn-on: " + result.WindowNames(result.TurnOn), example: "i10-v2", preset: "i10-v2",
		target: func(s *Setup, _ *Channel) any { return &s.Energy.WindowOn }},

	{table: "definitions", name: "set", check: definitionSet, help: "named set of definitions: slewbook definitions lists them", example: "mosfet-iec", preset: "those of the device's kind",
		target: func(s *Setup, _ *Channel) any { return &s.Definitions.Set }},
	{table: "definitions", name: "choose", check: definitionChoice, help: "quantities read under a named definition, on top of the set", example: "dvdt_on=20-80, t_rr=line-90-25", preset: "none",
		target: func(s *Setup, _ *Channel) any { return &s.Definitions.Choose }},
	{table: "definitions", name: "span_from", unit: "V", check: positive, help: "lower voltage of the definition span of dvdt_on and dvdt_off", example: "100 V", preset: "no span",
		target: func(s *Setup, _ *Channel) any { return &s.Definitions.SpanFrom }},
	{table: "definitions", name: "span_to", unit: "V", check: positive, help: "its upper voltage, given together with span_from", example: "300 V", preset: "no span",
		target: func(s *Setup, _ *Channel) any { return &s.Definitions.SpanTo }},
	{table: "definitions", name: "on_delay", unit: "s", check: positive, help: "when after v 10 % at turn-on the on-state voltage and resistance are read", example: "1 µs", preset: "1 µs",
		target: func(s *Setup, _ *Channel) any { return &s.Definitions.OnDelay }},

	{table: "levels", name: "method", check: levelMethod, help: `how state levels are read: "shorth" (shortest half) or "mode" (of a histogram)`, example: "shorth", preset: "shorth",
		target: func(s *Setup, _ *Channel) any { return &s.Levels.Method }},

	{table: "alignment", name: "match_bandwidth", help: "slow the faster one of vds and id to the bandwidth of the slower; needs the bandwidth of both", example: "false", preset: "false",
		target: func(s *Setup, _ *Channel) any { return &s.Alignment.MatchBandwidth }},

	{table: "baseline", name: "zero", help: "take the zero of the current off, read from a quiet off-state", example: "true", preset: "true",
		target: func(s *Setup, _ *Channel) any { return &s.Baseline.Zero }},
	{table: "baseline", name: "from", unit: "s", help: "start of the quiet interval, on the capture's own axis", example: "-2 µs", preset: "found",
		target: func(s *Setup, _ *Channel) any { return &s.Baseline.From }},
	{table: "baseline", name: "to", unit: "s", help: "its end, given together with from", example: "-1 µs", preset: "found",
		target: func(s *Setup, _ *Channel) any { return &s.Baseline.To }},

	{table: "plan", name: "v_bus", unit: "V", check: positive, help: "bus voltages to test, as a list", example: "400 V", preset: "none",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Voltages }},
	{table: "plan", name: "i", unit: "A", check: positive, help: "load currents to test, as a list", example: "25 A", preset: "none",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Currents }},
	{table: "plan", name: "tj", unit: "K", help: "junction temperatures to test, as a list", example: "25 °C", preset: "none",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Temperatures }},
	{table: "plan", name: "repeats", check: countOf, help: "shots at each point", example: "1", preset: "1",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Repeats }},
	{table: "plan", name: "gap", unit: "s", help: "from the first turn-off to the second turn-on", example: "1.5 us", preset: "must be given",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Gap }},
	{table: "plan", name: "width", unit: "s", help: "width of the second pulse", example: "1.2 us", preset: "must be given",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Width }},
	{table: "plan", name: "before", unit: "s", check: notNegative, help: "record before the first pulse", example: "1 us", preset: "1 us",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Before }},
	{table: "plan", name: "after", unit: "s", check: notNegative, help: "record after the last edge", example: "1 us", preset: "1 us",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.After }},
	{table: "plan", name: "width_min", unit: "s", check: positive, help: "shortest pulse that the driver gives", example: "200 ns", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.WidthMin }},
	{table: "plan", name: "settle", unit: "s", check: notNegative, help: "what ringing needs to settle after a turn-off", example: "300 ns", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Settle }},
	{table: "plan", name: "compensate", help: "charge the bank so high that the sag leaves the wanted voltage", example: "true", preset: "true",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Compensate }},
	{table: "plan", name: "rate", unit: "Hz", check: positive, help: "repetition rate of the shots", example: "0.1 Hz", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Rate }},
	{table: "plan", name: "error", unit: "1", check: share, help: "relative error of the energies that the alignment is to allow", example: "2 %", preset: "2 %",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Want }},
	{table: "plan", name: "v_share", unit: "1", check: share, help: "largest share of v_max that the peak may take", example: "80 %", preset: "80 %",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.VShare }},
	{table: "plan", name: "sag", unit: "1", check: share, help: "largest sag of the bus", example: "5 %", preset: "5 %",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.SagMax }},
	{table: "plan", name: "drift", unit: "1", check: share, help: "largest change of the load current in gap and second pulse", example: "10 %", preset: "10 %",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.DriftMax }},

	{table: "inductor", name: "i_sat", unit: "A", check: positive, help: "current up to which the inductor holds its inductance", example: "150 A", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.LSat }},
	{table: "inductor", name: "r", unit: "ohm", check: notNegative, help: "its resistance", example: "5 mohm", preset: "left out",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.LR }},
	{table: "inductor", name: "c_winding", unit: "F", check: notNegative, help: "capacitance of its winding", example: "40 pF", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.CWinding }},

	{table: "bank", name: "esr", unit: "ohm", check: notNegative, help: "series resistance of the bank", example: "4 mohm", preset: "left out",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.ESR }},
	{table: "bank", name: "v_max", unit: "V", check: positive, help: "rated voltage of the bank", example: "1100 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.CVMax }},
	{table: "bank", name: "r_bleed", unit: "ohm", check: positive, help: "bleeder resistor", example: "100 kohm", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Bleed }},
	{table: "bank", name: "v_touch", unit: "V", check: positive, help: "voltage that the bleeder must come down to, as local rules have it", example: "60 V", preset: "must be given by the user",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.VTouch }},

	{table: "supply", name: "i_max", unit: "A", check: positive, help: "current limit of the supply", example: "0.5 A", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.ISup }},
	{table: "supply", name: "v_max", unit: "V", check: positive, help: "largest voltage of the supply", example: "1000 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.VSup }},

	{table: "scope", name: "sample_rate", unit: "Hz", check: positive, help: "largest sample rate", example: "2.5 GHz", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.SampleRate }},
	{table: "scope", name: "depth", check: positive, help: "record memory, samples of a channel", example: "1e6", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.Depth }},

	{table: "expect", name: "dvdt_on", unit: "V/s", check: positive, help: "expected voltage slope at turn-on", example: "30 kV/us", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.DvdtOn }},
	{table: "expect", name: "dvdt_off", unit: "V/s", check: positive, help: "expected voltage slope at turn-off", example: "40 kV/us", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.DvdtOff }},
	{table: "expect", name: "didt_on", unit: "A/s", check: positive, help: "expected current slope at turn-on", example: "2 A/ns", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.DidtOn }},
	{table: "expect", name: "didt_off", unit: "A/s", check: positive, help: "expected current slope at turn-off", example: "3 A/ns", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.DidtOff }},
	{table: "expect", name: "i_rrm", unit: "A", check: notNegative, help: "expected peak reverse recovery current of the freewheeling device", example: "20 A", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Plan.IRrm }},
}

// aliases are the names of roles for an IGBT.
var aliases = map[string]result.Role{"vce": result.Vds, "ic": result.Id, "vge": result.Vgs, "vce_on": result.VdsOn}

// role returns the role of a channel's name in the file.
func role(name string) (result.Role, bool) {
	if r, ok := aliases[name]; ok {
		return r, true
	}
	name = strings.Replace(name, "ic_", "id_", 1)
	for _, r := range append(result.SetupRoles(), result.Roles...) {
		if string(r) == name {
			return r, true
		}
	}
	return "", false
}

// allows tells whether a channel of that role may have the key, and if not who
// may.
func (k key) allows(r result.Role) error {
	switch {
	case k.only == currentRoles && r.Unit() != "A":
		return errors.New("this is a voltage; expected under the channel of a current")
	case k.only == drainCurrent && r != result.Id:
		return errors.New("expected under channel.id (channel.ic) only")
	}
	return nil
}

// findKey returns the key of that table and name.
func findKey(table, name string) (key, bool) {
	for _, k := range keys {
		if k.table == table && k.name == name {
			return k, true
		}
	}
	return key{}, false
}

// namesIn lists the keys of a table.
func namesIn(table string) []string {
	var names []string
	for _, k := range keys {
		if k.table == table {
			names = append(names, k.name)
		}
	}
	return names
}

// tables lists the tables in the order of the template.
func tables() []string {
	var all []string
	for _, k := range keys {
		if len(all) == 0 || all[len(all)-1] != k.table {
			all = append(all, k.table)
		}
	}
	return all
}
