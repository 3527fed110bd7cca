package setup

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

const full = `
[channel.vds]
source      = "CH2"
scale       = 1.0
invert      = false
offset      = "0 V"
delay       = "1.5 ns"
bandwidth   = "500 MHz"
gain_u      = "0.5 %"
offset_u    = "1.5 V"
accuracy    = "1 % of reading + 0.5 % of range, k = 2"
gain_ref    = "reference 1"
calibrated  = "2026-01-01"
due         = "2027-01-01"
drift       = "0.3 %"
bits        = 12
range       = "1.2 kV"
range_min   = "-200 V"
range_max   = "1 kV"
filter      = "gauss 200 MHz"

[channel.ic]
source = "CH3"
scale  = -10
offset = "20 mA"
bandwidth = "100 MHz"
shunt_r = "10 mΩ"
shunt_l = "1.2 nH"
droop = "50 us"
accuracy = "1 % of reading + 0.1 A"

[device]
kind = "igbt"
name = "sample 3"
v_max = "1.2 kV"
vgs_max = "20 V"
vgs_min = "-8 V"

[circuit]
rg_on = "4.7 ohm"
rg_off = "2.2 Ω"
l_load = "100 µH"
freewheel = "body diode"

[conditions]
tj = "25 °C"
date = "2026-07-01"
position = "low side"
[conditions.note]
soak = "10 min"

[energy]
window_off = "g90-i2"

[definitions]
set = "igbt-iec"
choose = "dvdt_on=20-80, t_rr=line-75-50"
span_from = "100 V"
span_to = "0.3 kV"

[alignment]
match_bandwidth = true

[levels]
method = "mode"

[baseline]
zero = false
from = "-2 us"
to = "-1 us"
`

func TestLoad(t *testing.T) {
	p := filepath.Join(t.TempDir(), "bench.toml")
	if err := os.WriteFile(p, []byte(full), 0o666); err != nil {
		t.Fatal(err)
	}
	got, err := Load(p)
	if err != nil {
		t.Fatal(err)
	}
	want := Default()
	vds := Channel{Source: "CH2", Scale: 1, Stated: true, Delay: 1.5e-9, Bandwidth: 500e6, GainU: 0.005, OffsetU: 1.5, DelayU: math.NaN(), Accuracy: "1 % of reading + 0.5 % of range, k = 2", GainRef: "reference 1", Calibrated: "2026-01-01", Due: "2027-01-01", Drift: 0.003, Bits: 12, Range: 1200, RangeMin: -200, RangeMax: 1000,
		Filter: "gauss 200 MHz", ShuntR: math.NaN(), ShuntL: math.NaN(), Droop: math.NaN(), LInsert: math.NaN()}
	id := DefaultChannel()
	id.Source, id.Scale, id.Stated, id.Offset, id.Bandwidth = "CH3", -10, true, 0.02, 100e6
	id.ShuntR, id.ShuntL, id.Droop = 10e-3, 1.2e-9, 50e-6
	id.Accuracy = "1 % of reading + 0.1 A"
	want.Alignment.MatchBandwidth = true
	want.Channel = map[result.Role]Channel{result.Vds: vds, result.Id: id}
	want.Device.Kind, want.Device.Name, want.Device.VMax, want.Device.VgsMax, want.Device.VgsMin = "igbt", "sample 3", 1200, 20, -8
	want.Circuit.RgOn, want.Circuit.RgOff, want.Circuit.LLoad, want.Circuit.Freewheel = 4.7, 2.2, 100e-6, "body diode"
	want.Under = Under{Tj: 298.15, Tc: math.NaN(), Date: "2026-07-01", Position: "low side", Notes: []waveform.Field{{Key: "soak", Value: "10 min"}}}
	want.Energy.WindowOff = "g90-i2"
	want.Definitions = Definitions{"igbt-iec", "dvdt_on=20-80, t_rr=line-75-50", 100, 300, 0}
	want.Levels.Method = "mode"
	want.Baseline = Baseline{From: -2e-6, To: -1e-6}
	if d := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.IgnoreUnexported(Setup{})); d != "" {
		t.Error(d)
	}
	nan := math.NaN()
	record := []result.Condition{
		{Key: "kind", Value: math.NaN(), Text: "igbt"},
		{Key: "device", Value: nan, Text: "sample 3"},
		{Key: "rg_on", Value: 4.7, Unit: "ohm", Text: "4.7 ohm"},
		{Key: "rg_off", Value: 2.2, Unit: "ohm", Text: "2.2 Ω"},
		{Key: "l_load", Value: 100e-6, Unit: "H", Text: "100 µH"},
		{Key: "freewheel", Value: nan, Text: "body diode"},
		{Key: "tj", Value: 298.15, Unit: "K", Text: "25 °C"},
		{Key: "date", Value: nan, Text: "2026-07-01"},
		{Key: "position", Value: nan, Text: "low side"},
		{Key: "note.soak", Value: nan, Text: "10 min"},
	}
	if d := cmp.Diff(record, got.Conditions(), cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
}

func TestForms(t *testing.T) {
	for _, doc := range []string{
		"channel.vds.source = 'CH1'\n",
		"channel.vds = { source = 'CH1' }\n",
		"[channel]\nvds = { source = 'CH1' }\n",
		"[channel]\nvds.source = 'CH1'\r\n",
		"channel = { vds = { source = 'CH1' } }\n",
		"[channel.vce]\nsource = '''CH1'''\n",
	} {
		s, err := Parse("bench.toml", []byte(doc))
		if err != nil || s.Channel[result.Vds].Source != "CH1" || s.Channel[result.Vds].Scale != 1 {
			t.Errorf("%q: %+v, %v", doc, s, err)
		}
	}
}

// The template loads as it is, and with every example in it taken in.
func TestTemplate(t *testing.T) {
	s, err := Parse("template", Template())
	if err != nil {
		t.Fatal(err)
	}
	want := Default()
	for _, r := range []result.Role{result.Vds, result.Id, result.Vgs} {
		want.Channel[r] = DefaultChannel()
	}
	if d := cmp.Diff(want, s, cmpopts.EquateNaNs(), cmpopts.IgnoreUnexported(Setup{})); d != "" {
		t.Error(d)
	}
	all := regexp.MustCompile(`(?m)^# (\w+ = )`).ReplaceAllString(string(Template()), "$1")
	if _, err := Parse("template", []byte(all)); err != nil {
		t.Error(err)
	}
	for _, k := range keys {
		if !strings.Contains(all, "\n"+k.name+" = ") {
			t.Errorf("%s is not in the template", k.name)
		}
	}
}

// gain_u and offset_u count before accuracy, which is of bounds unless its coverage is
// stated (JCGM 100, 4.3.7 and 4.3.3); bits and range give the step.
func TestTraced(t *testing.T) {
	s, err := Parse("bench.toml", []byte(full))
	if err != nil {
		t.Fatal(err)
	}
	v, i := s.Options().Channels[result.Vds], s.Options().Channels[result.Id]
	if v.GainU != 0.005 || v.GainBounded || v.OffsetU != 1.5 || v.Reference != "reference 1" || v.Drift != 0.003 || v.Due.Sub(v.Calibrated).Hours() != 365*24 || v.Step != 1200./4096 {
		t.Errorf("vds: %+v", v)
	}
	if math.Abs(i.GainU-0.01/math.Sqrt(3)) > 1e-15 || !i.GainBounded || math.Abs(i.OffsetU-0.1/math.Sqrt(3)) > 1e-15 || !i.OffsetBounded || i.Step != 0 || !i.Due.IsZero() {
		t.Errorf("id: %+v", i)
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct{ name, doc, want string }{
		{"unknown key", "[channel.vds]\nbandwith = \"500 MHz\"\n", "bench.toml:2: channel.vds.bandwith: no such key; did you mean bandwidth?\n    bandwith = \"500 MHz\""},
		{"far from any key", "[energy]\nwhatever = 1", "bench.toml:2: energy.whatever: no such key; expected one of window_off, window_on\n    whatever = 1"},
		{"unknown table", "[chanel.vds]\nbits = 8", "bench.toml:1: [chanel.vds]: no such table; expected one of channel, file, device, circuit, insulation, conditions, energy, definitions, levels, alignment, baseline, plan, inductor, bank, supply, scope, expect\n    [chanel.vds]"},
		{"wrong unit", "[channel.vds]\ndelay = \"5 A\"", "bench.toml:2: channel.vds.delay: 5 A: expected a time such as \"50 ns\"\n    delay = \"5 A\""},
		{"unit of the role", "[channel.id]\noffset = \"5 V\"", "bench.toml:2: channel.id.offset: 5 V: expected a current such as \"20 A\"\n    offset = \"5 V\""},
		{"bare number", "[circuit]\nrg_on = 4.7", "bench.toml:2: circuit.rg_on: 4.7: expected a resistance with its unit, such as \"4.7 ohm\"\n    rg_on = 4.7"},
		{"bare number in quotes", "[circuit]\nrg_on = \"4.7\"", "bench.toml:2: circuit.rg_on: 4.7: expected a resistance with its unit, such as \"4.7 ohm\"\n    rg_on = \"4.7\""},
		{"negative bandwidth", "[channel.vds]\n\nbandwidth = \"-5 MHz\" # oops", "bench.toml:3: channel.vds.bandwidth: -5 MHz; expected more than zero\n    bandwidth = \"-5 MHz\" # oops"},
		{"negative resistor", "[circuit]\nrg_on = \"-1 ohm\"", "bench.toml:2: circuit.rg_on: -1 ohm; expected zero or more\n    rg_on = \"-1 ohm\""},
		{"no bits", "[channel.vds]\nbits = 0", "bench.toml:2: channel.vds.bits: 0; expected a whole number from 1 to 32 without quotes\n    bits = 0"},
		{"half bits", "[channel.vds]\nbits = 7.5", "bench.toml:2: channel.vds.bits: 7.5; expected a whole number from 1 to 32 without quotes\n    bits = 7.5"},
		{"percent", "[channel.vds]\ngain_u = \"120 %\"", "bench.toml:2: channel.vds.gain_u: 120 %; expected 0 to 100 %\n    gain_u = \"120 %\""},
		{"zero scale", "[channel.vds]\nscale = 0", "bench.toml:2: channel.vds.scale: 0; expected another number: the channel would vanish\n    scale = 0"},
		{"scale in quotes", "[channel.vds]\nscale = \"10\"", "bench.toml:2: channel.vds.scale: 10; expected a number without unit and quotes, such as 1.0\n    scale = \"10\""},
		{"infinite scale", "[channel.vds]\nscale = inf", "bench.toml:2: channel.vds.scale: inf; expected a finite number, such as 1.0\n    scale = inf"},
		{"no boolean", "[channel.vds]\ninvert = \"yes\"", "bench.toml:2: channel.vds.invert: yes; expected true or false\n    invert = \"yes\""},
		{"no words", "[channel.vds]\nsource = 2", "bench.toml:2: channel.vds.source: 2; expected words in quotes\n    source = 2"},
		{"unknown role", "[channel.vdss]\nbits = 8", "bench.toml:1: channel.vdss: no such role; expected one of vds, id, vgs, il, v_other, vgs_other, i_other, ig, vds_on, id_1, id_2, id_3, id_4, id_5, id_6, or vce, ic, vge (ic_1 and so on, vce_on)\n    [channel.vdss]"},
		{"no role", "[channel]\nbits = 8", "bench.toml:2: channel.bits: a key without a role; expected it under [channel.vds] or another role\n    bits = 8"},
		{"value for a table", "device = 5", "bench.toml:1: a key before the first table; expected it under one of [channel], [file], [device], [circuit], [insulation], [conditions], [energy], [definitions], [levels], [alignment], [baseline], [plan], [inductor], [bank], [supply], [scope], [expect]\n    device = 5"},
		{"duplicate alias", "[channel.vds]\nbits = 8\n[channel.vce]\nbits = 8", "bench.toml:3: channel.vce: the same role as channel.vds, which stands in line 1; give one of them\n    [channel.vce]"},
		{"kind", "[device]\nkind = \"thyristor\"", "bench.toml:2: device.kind: \"thyristor\"; expected one of mosfet, igbt\n    kind = \"thyristor\""},
		{"set", "[definitions]\nset = \"iec\"", "bench.toml:2: definitions.set: no set of definitions is named \"iec\"; there are mosfet, mosfet-iec, mosfet-jedec, igbt, igbt-iec, igbt-5-5, igbt-fixed-5us, igbt-long-tail, igbt-fixed-2us, gto-fixed, slope-20-80, slope-swing\n    set = \"iec\""},
		{"choice", "[definitions]\nchoose = \"dvdt_on=30-70\"", "bench.toml:2: definitions.choose: dvdt_on has no definition \"30-70\"; there are 10-90, 20-80, 40-60, max, swing-over-10-90, span, after-i90\n    choose = \"dvdt_on=30-70\""},
		{"window", "[energy]\nwindow_on = \"v10-i2\"", "bench.toml:2: energy.window_on: \"v10-i2\"; expected one of i10-v2, i10-v10, g10-v2, i10-v5, i5-v5\n    window_on = \"v10-i2\""},
		{"one end", "[channel.vds]\nrange_min = \"0 V\"", "bench.toml:2: channel.vds.range_min: given without channel.vds.range_max\n    range_min = \"0 V\""},
		{"ends crossed", "[baseline]\nfrom = \"1 us\"\nto = \"0 us\"", "bench.toml:2: baseline.from: not below baseline.to, which stands in line 3\n    from = \"1 us\""},
		{"no such filter", "[channel.vds]\nfilter = \"gaus 200 MHz\"", "bench.toml:2: channel.vds.filter: filter \"gaus 200 MHz\": \"gaus\": expected mean, median, sg, gauss or butter\n    filter = \"gaus 200 MHz\""},
		{"even window", "[channel.vds]\nfilter = \"mean 4\"", "bench.toml:2: channel.vds.filter: filter \"mean 4\": filters: moving average over 4 samples: expected an odd number from 1 to 2097153, so that one is in the middle\n    filter = \"mean 4\""},
		{"shunt of a voltage", "[channel.vgs]\nshunt_r = \"10 mohm\"\nshunt_l = \"1 nH\"", "bench.toml:2: channel.vgs.shunt_r: this is a voltage; expected under the channel of a current\n    shunt_r = \"10 mohm\"\nbench.toml:3: channel.vgs.shunt_l: this is a voltage; expected under the channel of a current\n    shunt_l = \"1 nH\""},
		{"half a shunt", "[channel.ic]\nshunt_l = \"1 nH\"", "bench.toml:2: channel.ic.shunt_l: given without channel.ic.shunt_r\n    shunt_l = \"1 nH\""},
		{"half of two rings", "[circuit]\nc_added = \"690 pF\"", "bench.toml:2: circuit.c_added: given without circuit.f_added\n    c_added = \"690 pF\""},
		{"corners that fall back", "[device]\nrbsoa = \"1000 V: 240 A, 900 V: 120 A\"", "bench.toml:2: device.rbsoa: \"900 V: 120 A\"; expected corners of rising voltage, such as \"1000 V: 240 A, 1200 V: 120 A\"\n    rbsoa = \"1000 V: 240 A, 900 V: 120 A\""},
		{"curve of one point", "[device]\nc_oss = \"0 V: 1 nF\"", "bench.toml:2: device.c_oss: \"0 V: 1 nF\" is one point; expected a curve that begins at 0 V and rises, such as \"0 V: 2.1 nF, 50 V: 400 pF, 800 V: 150 pF\"\n    c_oss = \"0 V: 1 nF\""},
		{"no inductance", "[channel.id]\nshunt_r = \"1 mohm\"\nshunt_l = \"0 nH\"", "bench.toml:3: channel.id.shunt_l: 0 nH; expected more than zero\n    shunt_l = \"0 nH\""},
		{"droop of the load's sensor", "[channel.il]\ndroop = \"50 us\"", "bench.toml:2: channel.il.droop: expected under channel.id (channel.ic) only\n    droop = \"50 us\""},
		{"match without one", "[channel.vds]\nbandwidth = \"100 MHz\"\n[channel.ic]\n[alignment]\nmatch_bandwidth = true", "bench.toml:5: alignment.match_bandwidth: given without channel.ic.bandwidth\n    match_bandwidth = true"},
		{"match without both", "[alignment]\nmatch_bandwidth = true", "bench.toml:2: alignment.match_bandwidth: given without channel.vds.bandwidth\n    match_bandwidth = true\nbench.toml:2: alignment.match_bandwidth: given without channel.id.bandwidth\n    match_bandwidth = true"},
		{"accuracy of a voltage", "[channel.id]\naccuracy = \"1 V\"", "bench.toml:2: channel.id.accuracy: 1 V: expected a current such as \"20 A\"; expected parts such as \"1 % of reading + 0.5 % of range + 0.2 V\", with \", k = 2\" behind them where the coverage is stated\n    accuracy = \"1 V\""},
		{"part of no range", "[channel.vds]\naccuracy = \"1 % of range\"", "bench.toml:2: channel.vds.accuracy: a part of the range, which is not given; give channel.vds.range\n    accuracy = \"1 % of range\""},
		{"due before", "[channel.vds]\ncalibrated = \"2026-03-01\"\ndue = \"2025-03-01\"", "bench.toml:3: channel.vds.due: not after channel.vds.calibrated, which stands in line 2\n    due = \"2025-03-01\""},
		{"no date", "[conditions]\ndate = \"1 March\"", "bench.toml:2: conditions.date: \"1 March\"; expected a date such as 2026-11-25\n    date = \"1 March\""},
		{"drift of what", "[channel.vds]\ndrift = \"1 %\"", "bench.toml:2: channel.vds.drift: since which gain is not told; give channel.vds.gain_u or accuracy as of the calibration\n    drift = \"1 %\""},
		{"gate ratings crossed", "[device]\nvgs_max = \"-8 V\"\nvgs_min = \"20 V\"", "bench.toml:3: device.vgs_min: not below device.vgs_max, which stands in line 2\n    vgs_min = \"20 V\""},
		{"absolute zero", "[conditions]\ntj = \"-300 °C\"", "bench.toml:2: conditions.tj: -300 °C: below absolute zero\n    tj = \"-300 °C\""},
		{"no table", "bits = 8", "bench.toml:1: a key before the first table; expected it under one of [channel], [file], [device], [circuit], [insulation], [conditions], [energy], [definitions], [levels], [alignment], [baseline], [plan], [inductor], [bank], [supply], [scope], [expect]\n    bits = 8"},
		{"list of tables", "[[device]]\nkind = \"igbt\"", "bench.toml:1: [[device]]: a list of tables; expected [device]\n    [[device]]"},
		{"syntax", "[device]\nkind = mosfet", "bench.toml:2: "},
		{"twice", "[device]\nkind = \"igbt\"\nkind = \"igbt\"", "bench.toml:3: key kind is already defined\n    kind = \"igbt\""},
		{"two at once", "[device]\nv_max = 5\ni_max = 6", "bench.toml:2: device.v_max: 5: expected a voltage with its unit, such as \"5 V\"\n    v_max = 5\nbench.toml:3: device.i_max: 6: expected a current with its unit, such as \"20 A\"\n    i_max = 6"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse("bench.toml", []byte(c.doc))
			if err == nil {
				t.Fatal("no error")
			}
			got := err.Error()
			if strings.HasSuffix(c.want, ": ") && strings.HasPrefix(got, c.want) {
				return // the decoder's own words
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
		})
	}
	if _, err := Load(filepath.Join(t.TempDir(), "gone.toml")); !os.IsNotExist(err) {
		t.Error(err)
	}
}

// Nothing in a file makes Parse panic.
func FuzzParse(f *testing.F) {
	f.Add([]byte(full))
	f.Add(Template())
	f.Add([]byte("channel = { vds = { bits = [1, {a = 2}] } }\n[[channel]]\n"))
	f.Fuzz(func(t *testing.T, doc []byte) {
		s, err := Parse("fuzz", doc)
		if (s == nil) == (err == nil) {
			t.Errorf("%v, %v", s, err)
		}
	})
}
