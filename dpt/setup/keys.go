package setup

import (
	"errors"

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
	levelMethod
	filterWords
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
	{table: "channel", name: "bits", check: bitCount, help: "resolution of the converter", example: "12", preset: "not known",
		target: func(_ *Setup, c *Channel) any { return &c.Bits }},
	{table: "channel", name: "range", unit: roleUnit, check: positive, help: "full input range, peak to peak; gives the resolution only", example: "1200", preset: "not known",
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

	{table: "file", name: "interval", unit: "s", check: positive, help: "sample interval of files that hold no time; where they do, theirs counts", example: "0.8 ns", preset: "as in the file",
		target: func(s *Setup, _ *Channel) any { return &s.File.Interval }},
	{table: "file", name: "start", unit: "s", help: "time of the first sample of such files", example: "-1 µs", preset: "0 s",
		target: func(s *Setup, _ *Channel) any { return &s.File.Start }},
	{table: "file", name: "separate", help: "every file is a capture of its own, also where a folder looks like one shot with a file for each channel", example: "false", preset: "false",
		target: func(s *Setup, _ *Channel) any { return &s.File.Separate }},

	{table: "device", name: "kind", check: deviceKind, help: `"mosfet" or "igbt"; decides what the delays mean`, example: "mosfet", preset: "mosfet", record: "kind",
		target: func(s *Setup, _ *Channel) any { return &s.Device.Kind }},
	{table: "device", name: "name", help: "type, lot and number of the device", example: "invented device, sample 3", preset: "not given", record: "device",
		target: func(s *Setup, _ *Channel) any { return &s.Device.Name }},
	{table: "device", name: "v_max", unit: "V", check: positive, help: "rated drain-source (collector-emitter) voltage", example: "1200 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VMax }},
	{table: "device", name: "i_max", unit: "A", check: positive, help: "rated drain (collector) current", example: "60 A", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.IMax }},
	{table: "device", name: "vgs_max", unit: "V", help: "largest static gate voltage", example: "20 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsMax }},
	{table: "device", name: "vgs_min", unit: "V", help: "smallest static gate voltage", example: "-8 V", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.VgsMin }},
	{table: "device", name: "l_package", unit: "H", check: notNegative, help: "inductance between the sense points and the chip", example: "3 nH", preset: "not known",
		target: func(s *Setup, _ *Channel) any { return &s.Device.LPackage }},

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
	{table: "circuit", name: "freewheel", help: "what freewheels: body diode, SiC diode, synchronous ...; free words", example: "body diode", preset: "not given", record: "freewheel",
		target: func(s *Setup, _ *Channel) any { return &s.Circuit.Freewheel }},

	{table: "conditions", name: "tj", unit: "K", help: "junction temperature", example: "25 °C", preset: "not given", record: "tj",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Tj }},
	{table: "conditions", name: "tc", unit: "K", help: "case temperature", example: "25 °C", preset: "not given", record: "tc",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Tc }},
	{table: "conditions", name: "position", help: "of the device: low side, high side; free words", example: "low side", preset: "not given", record: "position",
		target: func(s *Setup, _ *Channel) any { return &s.Under.Position }},

	{table: "energy", name: "window_off", check: windowOff, help: "energy window at turn-off: " + result.WindowNames(result.TurnOff), example: "v10-i2", preset: "v10-i2",
		target: func(s *Setup, _ *Channel) any { return &s.Energy.WindowOff }},
	{table: "energy", name: "window_on", check: windowOn, help: "energy window at turn-on: " + result.WindowNames(result.TurnOn), example: "i10-v2", preset: "i10-v2",
		target: func(s *Setup, _ *Channel) any { return &s.Energy.WindowOn }},

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
}

// aliases are the names of roles for an IGBT.
var aliases = map[string]result.Role{"vce": result.Vds, "ic": result.Id, "vge": result.Vgs}

// role returns the role of a channel's name in the file.
func role(name string) (result.Role, bool) {
	if r, ok := aliases[name]; ok {
		return r, true
	}
	for _, r := range result.Roles {
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
