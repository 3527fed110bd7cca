package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/plan"
	"slewbook/dpt/result"
	"slewbook/dpt/setup"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

const rehearsed = `
[device]
v_max = "1200 V"
r_on  = "12 mohm"
v_f   = "5 V"

[circuit]
l_load = "100 uH"
c_bus  = "100 uF"
l_loop = "12 nH"

[plan]
v_bus = ["600 V", "400 V"]
i     = ["120 A", "60 A"]
gap   = "1.5 us"
width = "1 us"
drift = "15 %"

[bank]
esr = "4 mohm"
`

func writePlanSetup(t *testing.T, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "bench.toml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// A plan, its rehearsal and the measurement of that close the loop: the current
// within 1 %, the sag within 2 % (what the issue asks for; the plan knows nothing
// of the model's saturation of the channel or its winding).
func TestPlanClosesTheLoop(t *testing.T) {
	file := writePlanSetup(t, rehearsed)
	dir := filepath.Join(t.TempDir(), "plan")
	if code, _, stderr := runPlan("--setup", file, "--out", dir, "--rehearse"); code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	bench, err := setup.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(bench.Bench())
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := os.ReadFile(filepath.Join(dir, "sheet.html"))
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(string(sheet), "<figure>"); got != len(p.Points) {
		t.Errorf("sheet.html shows %d predicted waveforms for %d points", got, len(p.Points))
	}
	if pdf, err := os.ReadFile(filepath.Join(dir, "sheet.pdf")); err != nil || !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		t.Errorf("sheet.pdf: %v, %.10q", err, pdf)
	}
	list, err := os.ReadFile(filepath.Join(dir, "shots.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Count(string(list), "\n"), 1+len(p.Points); got != want {
		t.Fatalf("shots.csv has %d lines, want %d:\n%s", got, want, list)
	}
	var stdout, stderr strings.Builder
	if code := run([]string{"measure", filepath.Join(dir, "rehearsal"), "--setup", file, "--shots", filepath.Join(dir, "shots.csv")}, &stdout, &stderr); code != exitDone {
		t.Fatalf("measuring the rehearsal by the plan's list: exit status %d: %s", code, stderr.String())
	}
	if _, matrix, ok := strings.Cut(stdout.String(), "Matrix of the campaign"); !ok || !strings.Contains(matrix, "1/1") || strings.Contains(matrix, " m1") || strings.Contains(stdout.String(), "off-plan") {
		t.Errorf("plan and rehearsal do not meet:\n%s", stdout.String())
	}
	for k := range p.Points {
		name := filepath.Join(dir, "rehearsal", filepath.FromSlash(shotName(&p, k, 1))+".csv")
		sources, _, err := format.Find(name, format.Options{})
		if err != nil {
			t.Fatal(err)
		}
		captures, err := sources[0].Read()
		if err != nil {
			t.Fatal(err)
		}
		shot, err := dpt.Measure(captures[0], dpt.Defaults())
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		within := func(what string, got, want, rel float64) {
			if !(math.Abs(got-want) <= rel*want) {
				t.Errorf("%s: %s is %.5g, planned %.5g", shotName(&p, k, 1), what, got, want)
			}
		}
		i := p.Value(k, "i_off")
		within("i_off", shot.Quantity("i_off").Value, i, 0.01)
		within("i_on", shot.Quantity("i_on").Value, p.Value(k, "i_on"), 0.01)
		v := shot.Traces[result.Vds]
		before := waveform.Mean(v.Samples(waveform.Interval{From: -0.8e-6, To: -0.1e-6}))
		// The partner of the model: 2.5 V and (Lifetime + Transit)/Charge.
		vf := 2.5 + i*20e-9/0.7e-6
		within("sag", before-(shot.Quantity("v_bus_off").Value-vf), p.Value(k, "v_sag"), 0.02)
	}
}

// The rehearsal is in the form that the set-up expects of the scope's files: names,
// scale, sign, offset and lag of its channels, so that the whole analysis is rehearsed.
func TestRehearsalFollowsTheSetup(t *testing.T) {
	text := strings.Replace(rehearsed, "\n[plan]", "\n[channel.vds]\nsource = \"CH3\"\nscale = 100\noffset = \"20 V\"\n[channel.id]\nsource = \"CH1\"\ninvert = true\ndelay = \"4 ns\"\n[plan]", 1)
	text = strings.Replace(strings.Replace(text, `["600 V", "400 V"]`, `["400 V"]`, 1), `["120 A", "60 A"]`, `["60 A"]`, 1)
	var values [2]map[string]struct{ Value float64 }
	for k, set := range []string{text, strings.Replace(strings.Replace(rehearsed, `["600 V", "400 V"]`, `["400 V"]`, 1), `["120 A", "60 A"]`, `["60 A"]`, 1)} {
		file := writePlanSetup(t, set)
		dir := filepath.Join(t.TempDir(), "plan")
		if code, _, stderr := runPlan("--setup", file, "--out", dir, "--rehearse"); code != exitDone {
			t.Fatalf("exit status %d: %s", code, stderr)
		}
		var stdout, stderr strings.Builder
		if code := run([]string{"measure", filepath.Join(dir, "rehearsal"), "--setup", file, "--json"}, &stdout, &stderr); code != exitDone {
			t.Fatalf("exit status %d: %s%s", code, stdout.String(), stderr.String())
		}
		var shot struct {
			Quantities map[string]struct{ Value float64 }
		}
		if err := json.Unmarshal([]byte(stdout.String()), &shot); err != nil {
			t.Fatal(err)
		}
		values[k] = shot.Quantities
	}
	for _, key := range []string{"i_off", "v_bus_off", "e_on", "e_off"} {
		a, b := values[0][key].Value, values[1][key].Value
		if !(math.Abs(a/b-1) < 0.01) { // of noise and steps; a lag left in would be 20 %
			t.Errorf("%s is %g with the set-up's channels, %g with plain ones", key, a, b)
		}
	}
}

func runPlan(args ...string) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	code = run(append([]string{"plan"}, args...), &out, &errs)
	return code, out.String(), errs.String()
}

func TestPlanJSON(t *testing.T) {
	file := writePlanSetup(t, rehearsed+"\n[inductor]\ni_sat = \"100 A\"\n")
	code, stdout, stderr := runPlan("--setup", file, "--json")
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	lines := strings.Split(strings.TrimSpace(stdout), "\n")
	if len(lines) != 4 {
		t.Fatalf("%d lines", len(lines))
	}
	for k, line := range lines {
		var p struct {
			Figures map[string]*float64
			Error   *string
		}
		if err := json.Unmarshal([]byte(line), &p); err != nil {
			t.Fatal(err)
		}
		if p.Figures["t_bleed"] != nil {
			t.Error("a time of a bleeder that is not known")
		}
		// From low to high; 120 A is beyond the saturation of the inductor.
		if saturates := k%2 == 1; saturates != (p.Error != nil) || saturates != (p.Figures["t_1"] == nil) {
			t.Errorf("point %d: %s", k+1, line)
		}
	}
}

func TestPlanErrors(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`l_load = "100 uH"`, `l_load = "-1 uH"`, "l_load: -1 uH; expected more than zero"},
		{`gap   = "1.5 us"`, "gap = \"100 ns\"\nsettle = \"200 ns\"", "plan.gap is 100 ns, but a turn-off of the largest point takes 200 ns"},
		{`v_bus = ["600 V", "400 V"]`, `v_bus = "600 V"`, `expected a list, such as ["400 V"]`},
		{`v_bus = ["600 V", "400 V"]`, ``, "plan.v_bus is missing"},
		{`i     = ["120 A", "60 A"]`, `i = ["120 A", "60 V"]`, "60 V: expected a current"},
	} {
		code, stdout, stderr := runPlan("--setup", writePlanSetup(t, strings.Replace(rehearsed, c.old, c.new, 1)))
		if code != exitFailed || stdout != "" || !strings.Contains(stderr, c.want) {
			t.Errorf("exit status %d, stdout %q, stderr %q; want %q", code, stdout, stderr, c.want)
		}
	}
}
