package viewer

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"math"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/curve"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/dpt/setup"
	"slewbook/reports"
)

// campaign is an invented one: the demo's device at two currents, and a shot that
// failed.
func campaign(t testing.TB, names ...string) []*result.Shot {
	t.Helper()
	var shots []*result.Shot
	for k, name := range names {
		shots = append(shots, measured(t, name, k, 0))
	}
	return append(shots, &result.Shot{Capture: "torn", Err: errors.New("row 7 <b>torn</b>")})
}

// measured is shot k of the campaign, with a lag of the current taken out.
func measured(t testing.TB, name string, k int, lag float64) *result.Shot {
	t.Helper()
	opt := dpt.Defaults()
	opt.Conditions = []result.Condition{{Key: "v_bus", Value: 600, Unit: "V"}, {Key: "i_load", Value: 25 * float64(k+1), Unit: "A"}, {Key: "remark", Value: math.NaN(), Text: name}}
	if lag != 0 {
		ch := setup.DefaultChannel()
		opt.Channels = map[result.Role]dpt.Channel{result.Id: {Channel: condition.Channel{Scale: 1, Delay: lag, RangeMin: ch.RangeMin, RangeMax: ch.RangeMax},
			Bandwidth: ch.Bandwidth, GainU: ch.GainU, OffsetU: ch.OffsetU, ShuntR: ch.ShuntR, ShuntL: ch.ShuntL, Droop: ch.Droop}}
	}
	m := model.Demo(600, 25*float64(k+1))
	m.Name = name
	s, err := dpt.Measure(model.Capture(m.Waveforms(), model.DemoInstrument(), uint64(k+1)), opt)
	if err != nil {
		t.Fatal(err)
	}
	s.Capture = name
	return &s
}

// compact gives the waveforms of a shot that has its traces.
func compact(s *result.Shot) ([]byte, error) { return json.Marshal(reports.Compact(s)) }

// written returns the page of shots.
func written(t testing.TB, shots []*result.Shot, limit int) (page string, embedded int) {
	t.Helper()
	book, err := curve.NewBook(shots, curve.BookOptions{Options: curve.Defaults()})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	embedded, err = Write(&b, Report{Title: "Invented <campaign>", Version: "test", Shots: shots, Charts: book.PageCharts(), Limit: limit,
		Waveforms: compact})
	if err != nil {
		t.Fatal(err)
	}
	return b.String(), embedded
}

// What captures and set-ups hold is hostile text: it stands in the page as text.
func TestHostileText(t *testing.T) {
	const evil = `</script><img src=x onerror=alert(1)>"'&{{.}}`
	page, _ := written(t, campaign(t, evil, "plain"), 1e7)
	for _, bad := range []string{"<img", "<b>torn", "</script><", `onerror=alert(1)>"`} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if n := strings.Count(page, "<script"); n != 1+2+2+1 {
		t.Errorf("%d scripts; want the data, figures and waveforms of two shots and the page's own", n)
	}
	if !strings.Contains(page, "row 7 &lt;b&gt;torn") {
		t.Error("the reason of the refusal is not in the page")
	}
}

// The policy allows the page's own script and style and nothing else, and nothing
// in it points elsewhere.
func TestPolicy(t *testing.T) {
	page, _ := written(t, campaign(t, "a"), 1e7)
	policy := regexp.MustCompile(`http-equiv="Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(page)
	if policy == nil || !strings.HasPrefix(policy[1], "default-src &#39;none&#39;") {
		t.Fatalf("policy: %q", policy)
	}
	for _, tag := range []string{"script", "style"} {
		parts := strings.Split(page, "<"+tag+">")
		text, _, _ := strings.Cut(parts[len(parts)-1], "</"+tag+">")
		sum := sha256.Sum256([]byte(text))
		want := tag + "-src &#39;sha256-" + strings.ReplaceAll(base64.StdEncoding.EncodeToString(sum[:]), "+", "&#43;")
		if !strings.Contains(policy[1], want) {
			t.Errorf("policy %q has not the hash of the %s", policy[1], tag)
		}
	}
	if bad := regexp.MustCompile(`(src|href)="[^#"]|url\(|https?://|@import`).FindString(page); bad != "" {
		t.Errorf("the page points elsewhere: %q", bad)
	}
	if strings.Contains(page, " style=") || regexp.MustCompile(` on[a-z]+=`).MatchString(page) {
		t.Error("the page holds what its own policy forbids")
	}
}

// What does not fit is left out and told.
func TestLimit(t *testing.T) {
	shots := campaign(t, "a", "b")
	all, n := written(t, shots, 1e7)
	if n != 2 || strings.Contains(all, "are not in this file") {
		t.Errorf("%d of 2 waveforms with room for all", n)
	}
	one, err := json.Marshal(reports.Compact(shots[0]))
	if err != nil {
		t.Fatal(err)
	}
	page, n := written(t, shots, len(one)+len(one)/4)
	if n != 1 || !strings.Contains(page, "Waveforms of 1 shots are not in this file") {
		t.Errorf("%d waveforms with room for one", n)
	}
	if page, n = written(t, shots, 0); n != 0 || !strings.Contains(page, `id="table"`) {
		t.Errorf("%d waveforms without room", n)
	}
}

// Each link to a shot names one that is there, as the script reads addresses, be its
// name what it may.
func TestLinks(t *testing.T) {
	shots := campaign(t, "bus 1/a+b", `c%20"<i>'&d`)
	page, _ := written(t, shots, 1e7)
	links := regexp.MustCompile(`href="#(shot(?:=|%)[^"]*)"`).FindAllStringSubmatch(page, -1)
	if len(links) < 2*2 {
		t.Fatalf("%d links to shots", len(links))
	}
	found := map[string]bool{}
	for _, l := range links {
		q, err := url.ParseQuery(html.UnescapeString(l[1]))
		if err != nil {
			t.Fatal(err)
		}
		found[q.Get("shot")] = true
		if !slices.ContainsFunc(shots, func(s *result.Shot) bool { return s.Capture == q.Get("shot") }) {
			t.Errorf("%q leads to %q", l[0], q.Get("shot"))
		}
	}
	if len(found) != 2 {
		t.Errorf("the links lead to %d of 2 shots", len(found))
	}
}

// The numbers on the page are those of the shot's JSON, to the last digit: what the
// script reads, and what stands behind the cells of the table.
func TestNumbers(t *testing.T) {
	shots := campaign(t, "a", "b")
	page, _ := written(t, shots, 1e7)
	read := func(after string, v any) {
		_, text, _ := strings.Cut(page, after)
		text, _, _ = strings.Cut(text, "</script>")
		if err := json.Unmarshal([]byte(text), v); err != nil {
			t.Fatalf("%s: %v", after, err)
		}
	}
	var d jsonData
	read(`id="data">`, &d)
	cell := regexp.MustCompile(`<td class="number[^"]*" data-key="([^"]*)" data-sort="([^"]*)"`)
	for _, s := range shots[:2] {
		line, err := result.Encode(s)
		if err != nil {
			t.Fatal(err)
		}
		var want struct {
			Quantities map[string]struct {
				Value, U, From, To *float64
				Definition         string
				Dominant           string
			}
		}
		if err := json.Unmarshal(line, &want); err != nil {
			t.Fatal(err)
		}
		var js jsonShot
		read(`class="figures" data-capture="`+s.Capture+`">`, &js)
		for key, q := range want.Quantities {
			got, ok := js.Q[key]
			if ok != (q.Value != nil) {
				t.Errorf("%s of %s: on the page %v, in the JSON %v", key, s.Capture, ok, q.Value != nil)
			}
			if !ok {
				continue
			}
			for n, w := range []*float64{q.Value, q.U, q.From, q.To} {
				if x, is := got[n].(float64); is != (w != nil) || is && x != *w {
					t.Errorf("%s of %s: %v on the page", key, s.Capture, got)
				}
			}
			if d.Texts[int(got[4].(float64))] != q.Definition || d.Texts[int(got[5].(float64))] != q.Dominant {
				t.Errorf("%s of %s has not the definition %q and most of its u from %q", key, s.Capture, q.Definition, q.Dominant)
			}
		}
		_, row, _ := strings.Cut(page, `data-capture="`+s.Capture+`"`)
		row, _, _ = strings.Cut(row, "</tr>")
		cells := cell.FindAllStringSubmatch(row, -1)
		if len(cells) < 15 {
			t.Fatalf("%d cells of %s", len(cells), s.Capture)
		}
		if s == shots[0] {
			printed(t, page, row, s)
		}
		for _, c := range cells {
			x, err := strconv.ParseFloat(html.UnescapeString(c[2]), 64)
			if w := want.Quantities[c[1]].Value; (c[2] == "") != (w == nil) || w != nil && (err != nil || x != *w) {
				t.Errorf("%s of %s: %s in the table", c[1], s.Capture, c[2])
			}
		}
	}
}

// printed holds what people read in the cells of a row against the values: to the last
// digit that is printed, in the unit at the head of the column.
func printed(t *testing.T, page, row string, s *result.Shot) {
	t.Helper()
	heads := regexp.MustCompile(`<th scope="col" data-key="([^"]*)" title="[^"]*">(?:.*?)(?:<br><small>([^<]*)</small>)?</th>`).FindAllStringSubmatch(page, -1)
	if len(heads) < 15 {
		t.Fatalf("%d columns", len(heads))
	}
	for _, h := range heads {
		m := s.Quantity(h[1])
		text := regexp.MustCompile(`data-key="` + h[1] + `"[^>]*>([^<]*)`).FindStringSubmatch(row)
		value, u, _ := strings.Cut(strings.ReplaceAll(text[1], "−", "-"), "±")
		if m == nil || math.IsNaN(m.Value) {
			if text[1] != "-" {
				t.Errorf("%s, which was not read: %q", h[1], text[1])
			}
			continue
		}
		size := map[string]float64{"V": 1, "A": 1, "ns": 1e-9, "µJ": 1e-6, "mJ": 1e-3, "kV/µs": 1e9, "A/ns": 1e9, "%": 0.01}[html.UnescapeString(h[2])]
		_, places, _ := strings.Cut(value, ".")
		last := math.Pow10(-len(places)) / 2 * (1 + 1e-9)
		x, err := strconv.ParseFloat(value, 64)
		if size == 0 || err != nil || !(math.Abs(x-m.Value/size) <= last) {
			t.Errorf("%s is %g and reads %q %s: %v", h[1], m.Value, text[1], h[2], err)
		}
		if x, err := strconv.ParseFloat(u, 64); m.U > 0 && (err != nil || !(math.Abs(x-2*m.U/size) <= last)) {
			t.Errorf("U of %s is %g and reads %q %s: %v", h[1], 2*m.U, text[1], h[2], err)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	var names []string
	for k := range 4 {
		names = append(names, fmt.Sprint("shot ", k))
	}
	four := campaign(b, names...)
	var shots []*result.Shot
	for k := range 1000 {
		s := *four[k%4]
		s.Capture = fmt.Sprintf("run/shot-%04d", k)
		shots = append(shots, &s)
	}
	for b.Loop() {
		var page bytes.Buffer
		if _, err := Write(&page, Report{Title: "1000", Shots: shots, Limit: 3e7, Waveforms: compact}); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(page.Len())/1e6, "MB")
	}
}
