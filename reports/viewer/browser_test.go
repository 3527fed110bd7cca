//go:build browser

package viewer

import (
	"context"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"

	"slewbook/dpt/result"
)

// browser opens a page in Chromium. What it writes to the console as an error, and
// every request that leaves the page, fails the test.
type browser struct {
	*testing.T
	ctx context.Context
}

func open(t *testing.T, page string) *browser {
	t.Helper()
	file := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(file, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Minute)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewExecAllocator(ctx, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(ctx)
	t.Cleanup(end)
	b := &browser{t, ctx}
	b.do(chromedp.EmulateViewport(1280, 900))
	err := chromedp.Listen(ctx, func(ev any) {
		if r, ok := ev.(*network.EventRequestWillBeSent); ok && !strings.HasPrefix(r.Request.URL, "file://"+file) {
			t.Errorf("a request leaves the page: %s", r.Request.URL)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	messages, stopped := chromedp.Console(ctx), make(chan struct{})
	go func() {
		defer close(stopped)
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleException || m.Type == "error" {
				t.Errorf("console: %s", m.Text)
			}
		}
	}()
	t.Cleanup(func() { end(); <-stopped })
	b.do(chromedp.Navigate("file://" + file))
	return b
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.Fatal(err)
	}
}

// text evaluates an expression of the page.
func (b *browser) text(expression string) string {
	b.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("String("+expression+")"))
	if err != nil {
		b.Fatalf("%s: %v", expression, err)
	}
	return s
}

func (b *browser) number(expression string) float64 {
	b.Helper()
	x, err := strconv.ParseFloat(b.text(expression), 64)
	if err != nil {
		b.Fatalf("%s: %v", expression, err)
	}
	return x
}

// settle waits until the page has drawn what it was asked for and written it into the
// address, however slow the machine.
func (b *browser) settle() {
	b.Helper()
	const drawn = "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(() => done(''), 200))))"
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](drawn, chromedp.EvalAwaitPromise)); err != nil {
		b.Fatal(err)
	}
}

// view is what the address keeps.
func (b *browser) view() url.Values {
	b.Helper()
	b.settle()
	v, err := url.ParseQuery(strings.TrimPrefix(b.text("location.hash"), "#"))
	if err != nil {
		b.Fatal(err)
	}
	return v
}

func (b *browser) span() (from, to float64) {
	b.Helper()
	v := b.view()
	from, err1 := strconv.ParseFloat(v.Get("from"), 64)
	to, err2 := strconv.ParseFloat(v.Get("to"), 64)
	if err1 != nil || err2 != nil {
		b.Fatalf("the address is %v", v)
	}
	return from, to
}

// mouse acts at a share of the width of the panels.
func (b *browser) mouse(kind input.DispatchMouseEventType, share float64) {
	b.Helper()
	x := b.number("document.getElementById('view').getBoundingClientRect().left") + 66 + share*(b.number("document.getElementById('view').getBoundingClientRect().width")-78)
	y := b.number("document.getElementById('view').getBoundingClientRect().top") + 100
	button := chromedp.ButtonLeft
	if kind == input.DispatchMouseEventTypeMouseMoved {
		button = chromedp.ButtonNone
	}
	b.do(chromedp.MouseEvent(kind, x, y, button, chromedp.ClickCount(1)))
}

func (b *browser) near(what string, got, want, within float64) {
	b.Helper()
	if !(math.Abs(got-want) <= within) {
		b.Errorf("%s: %g; want %g within %g", what, got, want, within)
	}
}

// A click on a name shows that shot.
func TestBrowserLinks(t *testing.T) {
	page, _ := written(t, campaign(t, "a", "bus 1/b"), 1e8)
	b := open(t, page)
	for _, name := range []string{"bus 1/b", "a"} {
		b.do(chromedp.Click(fmt.Sprintf("//table[@id='table']//th//a[text()=%q]", name)))
		b.settle()
		if got := b.view().Get("shot"); got != name {
			t.Errorf("a click on %q shows %q", name, got)
		}
	}
	b.do(chromedp.Click(chromedp.CSS(`.charts svg a[href="#shot=bus+1%2Fb"] .dot`)))
	b.settle()
	if got := b.view().Get("shot"); got != "bus 1/b" {
		t.Errorf("a click on a point of a curve shows %q", got)
	}
}

func TestBrowserView(t *testing.T) {
	shots := campaign(t, "a <i>", "b")
	page, _ := written(t, shots, 1e8)
	b := open(t, page)
	if got := b.view().Get("shot"); got != "" && got != "a <i>" {
		t.Errorf("the page starts with %q", got)
	}
	b.do(chromedp.ScrollIntoView(chromedp.ID("view")), chromedp.Focus(chromedp.ID("view")), chromedp.KeyEvent("0"))
	from, to := b.span()

	// Drag to zoom, keys, wheel.
	b.mouse(input.DispatchMouseEventTypeMousePressed, 0.25)
	b.mouse(input.DispatchMouseEventTypeMouseMoved, 0.5)
	b.mouse(input.DispatchMouseEventTypeMouseReleased, 0.5)
	a, z := b.span()
	b.near("start of a dragged view", a, from+0.25*(to-from), 0.01*(to-from))
	b.near("its end", z, from+0.5*(to-from), 0.01*(to-from))
	b.do(chromedp.KeyEvent("+"))
	c, d := b.span()
	b.near("width after +", d-c, (z-a)/2, 1e-3*(z-a))
	b.do(chromedp.KeyEvent("0"))
	a, z = b.span()
	b.near("width after 0", z-a, to-from, 1e-6*(to-from))
	b.do(chromedp.KeyEvent("e"))
	if a, z = b.span(); !(z-a < (to-from)/3) {
		t.Errorf("e shows %g of %g s", z-a, to-from)
	}

	// Rulers at the ends of the turn-on window read its energy.
	m := shots[0].Quantity("e_on")
	b.text(fmt.Sprintf("location.hash = 'shot=' + encodeURIComponent('a <i>') + '&from=%g&to=%g&r1=%.12g&r2=%.12g'", from, to, m.Over.From, m.Over.To))
	b.settle()
	between := b.text("document.getElementById('between').innerText")
	_, row, ok := strings.Cut(between, "∫ v·i dt")
	var size float64
	var unit string
	if n, _ := fmt.Sscan(row, &size, &unit); !ok || n != 2 || unit != "µJ" {
		t.Fatalf("between the rulers: %q", between)
	}
	b.near("energy between the rulers", size*1e-6, m.Value, 2e-3*m.Value)

	// A number of the table leads to where it was read.
	b.do(chromedp.Click(chromedp.CSS(`#table tbody tr td[data-key="e_off"]`)))
	if v := b.view(); v.Get("focus") != "e_off" {
		t.Errorf("a click on e_off gives %v", v)
	}
	e := shots[0].Quantity("e_off").Over
	if a, z = b.span(); !(a < e.From && z > e.To && z-a < 10*e.Duration()) {
		t.Errorf("e_off was read on %v and %g to %g is shown", e, a, z)
	}

	// A ruler is set by its button, and dragged.
	b.do(chromedp.Click(chromedp.CSS(`[data-do="ruler1"]`)))
	first, err := strconv.ParseFloat(b.view().Get("r1"), 64)
	if err != nil || !(first > a && first < z) {
		t.Fatalf("ruler 1 stands at %g of %g to %g: %v", first, a, z, err)
	}
	b.mouse(input.DispatchMouseEventTypeMousePressed, (first-a)/(z-a))
	b.mouse(input.DispatchMouseEventTypeMouseMoved, 0.75)
	b.mouse(input.DispatchMouseEventTypeMouseReleased, 0.75)
	if first, err = strconv.ParseFloat(b.view().Get("r1"), 64); err != nil {
		t.Fatal(err)
	}
	b.near("ruler 1, dragged", first, a+0.75*(z-a), 0.01*(z-a))
	// By keys alone, to another quantity.
	b.text(`(() => { const s = document.getElementById('focus'); s.value = 'didt_on'; s.dispatchEvent(new Event('change')); })()`)
	q := shots[0].Quantity("didt_on").Over
	if a, z = b.span(); !(a < q.From && z > q.To) {
		t.Errorf("didt_on was read on %v and %g to %g is shown", q, a, z)
	}
	// Overlay, aligned at an edge.
	b.do(chromedp.Click(chromedp.CSS(`#table tbody tr[data-capture="b"] input`)))
	if v := b.view(); v.Get("with") != `["b"]` || v.Get("align") != "turn-off" {
		t.Errorf("an overlay gives %v", v)
	}
	shot(b, "overlay")

	// The address restores the view.
	want := b.view().Encode()
	b.text("location.hash = 'shot=b'")
	b.settle()
	b.text("location.hash = '" + strings.ReplaceAll(want, "'", "%27") + "'")
	b.settle()
	if got := b.view().Encode(); got != want {
		t.Errorf("the address %s restores %s", want, got)
	}
}

// shot keeps a picture where SLEWBOOK_PICTURES names a folder, to be looked at.
func shot(b *browser, name string) {
	b.Helper()
	dir := os.Getenv("SLEWBOOK_PICTURES")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.Screenshot(chromedp.ID("waveform")))
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
	}
	if err != nil {
		b.Fatal(err)
	}
}

// A trial tells what measuring with that delay in the set-up gives.
func TestBrowserTrial(t *testing.T) {
	shots := campaign(t, "a", "b")
	page, _ := written(t, shots, 1e8)
	b := open(t, page)
	again := measured(t, "a", 0, 0.2e-9)
	for _, key := range []string{"e_off", "e_on"} {
		b.text(`(() => { location.hash = 'shot=a'; const d = document.getElementById('trial'); d.open = true;
			document.getElementById('trial-edge').value = '` + key + `'; const x = document.getElementById('trial-delay'); x.value = '0.2'; x.dispatchEvent(new Event('input')); })()`)
		b.settle()
		out := b.text("document.querySelector('#trial-out tbody tr td:last-child').textContent")
		percent, err := strconv.ParseFloat(strings.TrimSuffix(strings.ReplaceAll(out, "−", "-"), " %"), 64)
		if err != nil {
			t.Fatalf("the trial tells %q", out)
		}
		want := 100 * (again.Quantity(key).Value/shots[0].Quantity(key).Value - 1)
		if !(math.Abs(want) > 0.5) {
			t.Fatalf("%s changes by %g %% only", key, want)
		}
		b.near(key+" with 0.2 ns taken out [%]", percent, want, 0.03*math.Abs(want)+0.02)
	}
	if lines := b.text("document.getElementById('trial-lines').value"); !strings.Contains(lines, "[channel.id]") || !strings.Contains(lines, `delay = "0.200 ns"`) {
		t.Errorf("the set-up's lines are %q", lines)
	}
	if banner := b.text("document.querySelector('#trial .banner').innerText"); !strings.Contains(banner, "trial") {
		t.Errorf("the banner says %q", banner)
	}
}

func TestBrowserTable(t *testing.T) {
	shots := campaign(t, "a", "b", "c")
	page, _ := written(t, shots, 1e8)
	b := open(t, page)
	b.do(chromedp.SendKeys(chromedp.ID("words"), "torn"))
	if got := b.text("document.getElementById('count').textContent"); got != "1 of 4 shots" {
		t.Errorf("the filter leaves %q", got)
	}
	b.text("(() => { const w = document.getElementById('words'); w.value = ''; w.dispatchEvent(new Event('input')); })()")
	order := func() string {
		return b.text("[...document.querySelectorAll('#table tbody tr')].map((r) => r.dataset.capture).join(' ')")
	}
	header := chromedp.CSS(`#table th[data-key="e_on"] button`)
	b.do(chromedp.Click(header))
	if got := order(); got != "a b c torn" {
		t.Errorf("by e_on: %s", got)
	}
	b.do(chromedp.Click(header))
	if got := order(); got != "c b a torn" {
		t.Errorf("by e_on, largest first: %s; what was not measured comes last", got)
	}
	if got := b.text(`document.querySelector('#table th[data-key="e_on"]').getAttribute('aria-sort')`); got != "descending" {
		t.Errorf("aria-sort is %q", got)
	}
	// A column more.
	b.text(`(() => { document.querySelector('#filter details').open = true; [...document.querySelectorAll('#columns label')].find((l) => l.textContent.trim() === 'l_load').click(); })()`)
	if got := b.text(`document.querySelectorAll('#table td[data-key="l_load"]').length`); got != "3" {
		t.Errorf("%s cells of l_load", got)
	}
	// What is copied are the values of the shots that the filter leaves, in SI units.
	b.do(chromedp.SendKeys(chromedp.ID("words"), "i_load 50"))
	b.text("document.addEventListener('copy', () => { window.copied = document.activeElement.value; }, true)")
	b.do(chromedp.Click(chromedp.ID("copy")))
	lines := strings.Split(strings.TrimSpace(b.text("window.copied")), "\n")
	if len(lines) != 2 {
		t.Fatalf("copied: %q", lines)
	}
	heads, cells := strings.Split(lines[0], ","), strings.Split(lines[1], ",")
	for key, unit := range map[string]string{"e_on": "J", "t_rise_v": "s", "l_load": "H"} {
		k := slices.Index(heads, key+" ["+unit+"]")
		if k < 0 || cells[k] != strconv.FormatFloat(shots[1].Quantity(key).Value, 'g', -1, 64) && b.number(cells[k]) != shots[1].Quantity(key).Value {
			t.Errorf("copied of %s, which is %g: %q of %q", key, shots[1].Quantity(key).Value, cells, heads)
		}
	}
	if got := b.text("document.activeElement.id"); got != "copy" {
		t.Errorf("copying leaves the focus on %q", got)
	}
	b.text("(() => { document.getElementById('words').value = ''; const c = document.getElementById('code'); c.value = '-'; c.dispatchEvent(new Event('change')); })()")
	if got := b.text("[...document.querySelectorAll('#table tbody tr')].every((r) => r.hidden === (r.dataset.codes !== ''))"); got != "true" {
		t.Error("the filter for no warning shows shots that have one, or hides others")
	}
	// The page fits the narrowest window of WCAG 2.2, 1.4.10.
	b.do(chromedp.EmulateViewport(320, 800))
	if w := b.number("document.documentElement.scrollWidth"); w > 320 {
		t.Errorf("in a window of 320 the page is %g wide: %s", w, b.text("[...document.querySelectorAll('main *')].filter((e) => !e.closest('.scroll') && e.getBoundingClientRect().right > 320).map((e) => e.outerHTML.slice(0, 100)).join()"))
	}
}

// benchmarked opens a page in a browser of its own. cpu returns the processor time of
// the page's main thread so far, which a loaded machine does not lengthen.
func benchmarked(b *testing.B, page string) (ctx context.Context, address string, cpu func() float64) {
	b.Helper()
	file := filepath.Join(b.TempDir(), "report.html")
	if err := os.WriteFile(file, []byte(page), 0o644); err != nil {
		b.Fatal(err)
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), chromedp.NoFirstRun, chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU)
	b.Cleanup(stop)
	ctx, end := chromedp.NewContext(ctx)
	b.Cleanup(end)
	if _, err := chromedp.Call(ctx, performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks}); err != nil {
		b.Fatal(err)
	}
	return ctx, "file://" + file, func() float64 {
		got, err := chromedp.Call(ctx, performance.GetMetrics, struct{}{})
		if err != nil {
			b.Fatal(err)
		}
		for _, m := range got.Metrics {
			if m.Name == "TaskDuration" {
				return m.Value
			}
		}
		b.Fatal("no TaskDuration")
		return 0
	}
}

// BenchmarkOpen opens a page of 1000 shots.
func BenchmarkOpen(b *testing.B) {
	four := campaign(b, "0", "1", "2", "3")
	var shots []*result.Shot
	for k := range 1000 {
		s := *four[k%4]
		s.Capture = fmt.Sprintf("run/shot-%04d", k)
		shots = append(shots, &s)
	}
	page, n := written(b, shots, 3e7)
	ctx, address, cpu := benchmarked(b, page)
	before := cpu()
	for b.Loop() {
		if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
			b.Fatal(err)
		}
		painted := "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(''))))"
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[string](painted, chromedp.EvalAwaitPromise)); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((cpu()-before)/float64(b.N), "cpu-s/open")
	b.ReportMetric(float64(len(page))/1e6, "MB")
	b.ReportMetric(float64(n), "waveforms")
}

// BenchmarkPan pans and zooms in a shot of ten million samples, a frame at a time.
func BenchmarkPan(b *testing.B) {
	shots := campaign(b, "long")
	for _, t := range shots[0].Traces {
		t.Y = append(t.Y, make([]float64, 10_000_000-len(t.Y))...)
	}
	page, _ := written(b, shots, 3e7)
	ctx, address, cpu := benchmarked(b, page)
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(address)); err != nil {
		b.Fatal(err)
	}
	const frames = 200
	step := fmt.Sprintf(`new Promise((done) => {
		const view = document.getElementById('view'), keys = ['+', 'ArrowRight', 'ArrowLeft', '+', 'ArrowLeft', '-', 'ArrowRight', '0', 'e', '-', '-', '-'], start = performance.now();
		let n = 0;
		const next = () => {
			if (n === %d) { done(String((performance.now() - start) / n)); return; }
			view.dispatchEvent(new KeyboardEvent('keydown', { key: keys[n++ %% keys.length] }));
			requestAnimationFrame(next);
		};
		next();
	})`, frames)
	before, total := cpu(), 0.0
	for b.Loop() {
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](step, chromedp.EvalAwaitPromise))
		if err != nil {
			b.Fatal(err)
		}
		ms, err := strconv.ParseFloat(text, 64)
		if err != nil {
			b.Fatal(err)
		}
		total += ms
	}
	b.ReportMetric(1000/(total/float64(b.N)), "frames/s")
	b.ReportMetric(1000*(cpu()-before)/float64(b.N*frames), "cpu-ms/frame")
}
