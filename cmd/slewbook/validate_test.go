package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// -validation runs the virtual bench at its full length and writes its table
// into the README:
//
//	go test ./cmd/slewbook -run TestValidationTable -validation -timeout 1h
var writeValidation = flag.Bool("validation", false, "run slewbook validate and write its table in README.md")

// widest is the widest median 2u of a main quantity that is worth anything, relative to
// the value.
var widest = map[string]float64{
	"v_bus_off": 0.03, "v_bus_on": 0.03, "i_off": 0.04, "i_on": 0.04, "v_peak": 0.04, "i_peak": 0.04,
	"e_off": 0.15, "e_on": 0.10, "e_tot": 0.08,
	"td_off": 0.20, "td_on": 0.15, "t_rise_v": 0.06, "t_fall_i": 0.10, "t_rise_i": 0.06, "t_fall_v": 0.06,
	"dvdt_off": 0.06, "dvdt_on": 0.06, "didt_off": 0.10, "didt_on": 0.08,
	"l_loop": 0.40, "l_load": 0.04,
}

// The uncertainties cover the truth as often as they say, on a few shots of each
// family. With n values of which 95 % are to be covered, fewer than the least
// that has a chance of 1 in 100 000 (binomial) is a failure. It takes some
// seconds: nothing shorter tells a wrong uncertainty from a right one.
func TestCoverage(t *testing.T) {
	c := trial{shots: 16, seed: 2}.run()
	for _, key := range mainQuantities {
		width := widest[key]
		q := c.find(key, "", false)
		if q == nil || q.n == 0 {
			t.Errorf("%s: no values", key)
			continue
		}
		if least := leastHits(q.n, 0.95, 1e-5); q.hit < least {
			t.Errorf("%s: %d of %d truths within 2u; at least %d are expected", key, q.hit, q.n, least)
		}
		if width > 0 && !(q.width() < width) {
			t.Errorf("%s: median 2u is %.2g of the value, expected below %.2g", key, q.width(), width)
		}
	}
}

// Binomial tail of 20 trials at 0.5: P(k <= 5) = 0.0207, P(k <= 4) = 0.0059
// (tables of the binomial distribution, from memory).
func TestLeastHits(t *testing.T) {
	if k := leastHits(20, 0.5, 0.0061); k != 5 {
		t.Errorf("got %d, want 5", k)
	}
	if k := leastHits(20, 0.5, 0.0058); k != 4 {
		t.Errorf("got %d, want 4", k)
	}
}

// Of 1000 values 95 % are as expected; 88 % and 99.9 % are not, each told. Of 20 values 16
// may be chance (binomial, P(X <= 16 | 20, 0.92) = 0.07).
func TestCoverageOff(t *testing.T) {
	for _, x := range []struct {
		n, hit int
		off    bool
	}{{1000, 950, false}, {1000, 880, true}, {1000, 999, true}, {20, 16, false}, {20, 10, true}, {20, 20, false}} {
		c := coverage{{key: "e_on", n: x.n, hit: x.hit}, {key: "e_on", beyond: true, n: 10}}
		if got := c.off(); (len(got) > 0) != x.off {
			t.Errorf("%d of %d: %q", x.hit, x.n, got)
		}
	}
}

// The same seed gives the same table, however the shots are shared out.
func TestValidateSeed(t *testing.T) {
	print := func(seed uint64) string {
		tr := trial{shots: 2, seed: seed, family: "gan"}
		var b bytes.Buffer
		if err := tr.run().writeText(&b, tr); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	first := print(1)
	if print(1) != first {
		t.Error("one seed gave two tables")
	}
	if _, a, _ := strings.Cut(first, "\n"); strings.HasSuffix(print(2), a) {
		t.Error("two seeds gave one table")
	}
}

// The README's table is of a run of 1000 shots or more, and has a row for each
// main quantity on both benches.
func TestValidationTable(t *testing.T) {
	path := filepath.Join(root, "README.md")
	doc := readReadme(t)
	block := regexp.MustCompile("(?s)<!-- slewbook (validate[^\n]*) -->\n```text\n(.*?)```\n")
	m := block.FindStringSubmatch(doc)
	if m == nil {
		t.Fatal("README.md holds no table of slewbook validate")
	}
	if *writeValidation {
		t.Setenv("LC_ALL", "C.UTF-8")
		var stdout, stderr bytes.Buffer
		if state := run(strings.Fields(m[1]), &stdout, &stderr); state == exitFailed {
			t.Fatalf("exit status %d: %s", state, stderr.String())
		}
		doc = strings.Replace(doc, m[0], "<!-- slewbook "+m[1]+" -->\n```text\n"+stdout.String()+"```\n", 1)
		if err := os.WriteFile(path, []byte(doc), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	lines := strings.Split(m[2], "\n")
	if !regexp.MustCompile(`^[1-9]\d{3,} invented shots`).MatchString(lines[0]) {
		t.Errorf("the table begins with %q, expected 1000 shots or more", lines[0])
	}
	for _, key := range mainQuantities {
		rows := slices.DeleteFunc(slices.Clone(lines), func(l string) bool { return !strings.HasPrefix(l, key+" ") })
		if len(rows) != 2 {
			t.Errorf("the table has %d rows of %s, expected 2", len(rows), key)
		}
	}
}
