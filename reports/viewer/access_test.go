//go:build browser

package viewer

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"slewbook/dpt/result"
)

// media sets what the reader prefers.
func (b *browser) media(features ...string) {
	b.Helper()
	var p emulation.SetEmulatedMediaParams
	for _, f := range features {
		name, value, _ := strings.Cut(f, ": ")
		p.Features = append(p.Features, &emulation.MediaFeature{Name: name, Value: value})
	}
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, p); err != nil {
		b.Fatal(err)
	}
	b.settle()
}

// What a screen reader is told, as Chromium itself works it out: each control, link,
// table, figure and region has a name (WCAG 2.2, 4.1.2).
func TestBrowserNames(t *testing.T) {
	page, _ := written(t, campaign(t, "a", "b"), 1e8)
	b := open(t, page)
	b.text("[...document.querySelectorAll('details')].forEach((d) => { d.open = true; })")
	b.settle()
	tree, err := chromedp.Call(b.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		t.Fatal(err)
	}
	words := func(v *accessibility.Value) string {
		var text string
		if v != nil {
			if err := json.Unmarshal(v.Value, &text); err != nil {
				t.Fatal(err)
			}
		}
		return strings.TrimSpace(text)
	}
	named := []string{"button", "link", "checkbox", "searchbox", "spinbutton", "textbox", "combobox", "application", "region", "navigation", "figure", "table", "DisclosureTriangle"}
	count := map[string]int{}
	for _, n := range tree.Nodes {
		role := words(n.Role)
		if n.Ignored || !slices.Contains(named, role) {
			continue
		}
		count[role]++
		if words(n.Name) == "" {
			t.Errorf("a %s has no name: node %s of the tree", role, n.NodeID)
		}
	}
	for role, least := range map[string]int{"button": 20, "link": 12, "checkbox": 10, "searchbox": 1, "spinbutton": 2, "combobox": 3, "application": 1, "region": 6, "table": 5, "DisclosureTriangle": 4} {
		if count[role] < least {
			t.Errorf("%d of role %s; want %d or more", count[role], role, least)
		}
	}
}

// Marks of structure that the tree does not hold: cells at the head of columns and
// rows say of what they are (1.3.1), headings go down by one, no name stands twice.
func TestBrowserStructure(t *testing.T) {
	page, _ := written(t, campaign(t, "a", "b"), 1e8)
	b := open(t, page)
	b.do(chromedp.Click(chromedp.CSS(`[data-do="ruler1"]`)), chromedp.Click(chromedp.CSS(`[data-do="ruler2"]`)))
	b.text("document.getElementById('trial').open = true")
	b.settle()
	for what, expression := range map[string]string{
		"heads of columns or rows without scope": `[...document.querySelectorAll('th')].filter((e) => !['col', 'row'].includes(e.scope)).map((e) => e.outerHTML)`,
		"tables without a head":                  `[...document.querySelectorAll('table')].filter((e) => !e.tHead || !e.tHead.querySelector('th')).map((e) => e.outerHTML.slice(0, 200))`,
		"points without a title":                 `[...document.querySelectorAll('svg a')].filter((e) => !e.querySelector('title')).map((e) => e.outerHTML)`,
		"drawings without a name":                `[...document.querySelectorAll('svg:not([aria-hidden])')].filter((e) => !e.ariaLabel).map((e) => e.outerHTML.slice(0, 200))`,
		"names that stand twice":                 `[...document.querySelectorAll('[id]')].map((e) => e.id).filter((x, k, all) => all.indexOf(x) !== k)`,
		"references to what is not there":        `[...document.querySelectorAll('[aria-labelledby], [aria-describedby]')].filter((e) => !document.getElementById(e.getAttribute('aria-labelledby') ?? e.getAttribute('aria-describedby'))).map((e) => e.outerHTML.slice(0, 200))`,
		// 2.5.8: 24 pixels, or as far from the middle of any other.
		"targets that are too small": `(() => {
			const all = [...document.querySelectorAll('button, select, input, textarea, summary, tbody th a, nav a')].filter((e) => e.checkVisibility()).map((e) => { const l = e.closest('label'), r = (l ?? e).getBoundingClientRect(); return { e, r, x: (r.left + r.right) / 2, y: (r.top + r.bottom) / 2 }; });
			return all.filter((a) => (a.r.width < 24 || a.r.height < 24) && all.some((b) => b !== a && Math.max(b.r.left - a.x, a.x - b.r.right, 0) ** 2 + Math.max(b.r.top - a.y, a.y - b.r.bottom, 0) ** 2 < 144)).map((a) => a.e.outerHTML.slice(0, 120) + ' ' + a.r.width + ' ' + a.r.height);
		})()`,
		"headings that skip a level": `[...document.querySelectorAll('h1, h2, h3, h4')].filter((e, k, all) => k && Number(e.tagName[1]) - Number(all[k - 1].tagName[1]) > 1).map((e) => e.textContent)`,
	} {
		if bad := b.text(expression + `.join('\n')`); bad != "" {
			t.Errorf("%s:\n%s", what, bad)
		}
	}
}

// The tab key goes through all that can be used, in the order of the page, out at its
// end, and shows where it is (2.1.1, 2.1.2, 2.4.3, 2.4.7, 2.4.11).
func TestBrowserTab(t *testing.T) {
	page, _ := written(t, campaign(t, "a", "b"), 1e8)
	b := open(t, page)
	all := b.number(`[...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex="0"]')].filter((e) => e.checkVisibility()).length`)
	const here = `(() => {
		const e = document.activeElement;
		if (!e || e === document.body) return 'end';
		const mark = e.closest('svg') ? e.querySelector('.dot') : e, s = getComputedStyle(e), r = e.getBoundingClientRect(), m = getComputedStyle(mark);
		const ring = e !== mark ? m.strokeWidth === '2px' : s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2;
		const seen = r.width > 0 && r.bottom > 0 && r.top < innerHeight && r.right > 0 && r.left < innerWidth;
		const after = !window.before || Boolean(window.before.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING);
		window.before = e;
		return [ring ? '' : 'no ring', seen ? '' : 'out of sight', after ? '' : 'out of order'].filter(Boolean).join(', ') + '|' + e.outerHTML.slice(0, 120);
	})()`
	reached := 0
	for range int(all) + 5 {
		b.do(chromedp.KeyEvent("\t"))
		got := b.text(here)
		if got == "end" {
			break
		}
		reached++
		if bad, what, _ := strings.Cut(got, "|"); bad != "" {
			t.Errorf("%s: %s", bad, what)
		}
	}
	if reached != int(all) {
		t.Errorf("the tab key reaches %d of %g places", reached, all)
	}
}

// What the mouse does in the table and the view, by keys alone.
func TestBrowserKeys(t *testing.T) {
	shots := campaign(t, "a", "b")
	page, _ := written(t, shots, 1e8)
	b := open(t, page)
	b.text(`document.querySelector('#table tbody tr th a').focus()`)
	for range 100 {
		b.do(chromedp.KeyEvent(kb.ArrowRight))
		if b.text(`document.activeElement.dataset.key`) == "e_on" {
			break
		}
	}
	b.do(chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.Enter))
	if v := b.view(); v.Get("shot") != "b" || v.Get("focus") != "e_on" {
		t.Fatalf("right to e_on, down and Enter show %v", v)
	}
	if got := b.text("document.activeElement.id"); got != "view" {
		t.Errorf("then the focus is on %q", got)
	}
	numbers := b.text("document.querySelector('#numbers tbody').innerText")
	if m := shots[1].Quantity("e_on"); !strings.Contains(numbers, m.Definition) || !strings.Contains(numbers, m.Dominant) {
		t.Errorf("of e_on the page says %q; want its definition %q and that most of u comes from %q", numbers, m.Definition, m.Dominant)
	}
	from, to := b.span()
	b.do(chromedp.KeyEvent("1"))
	for range 5 {
		b.do(chromedp.KeyEvent(kb.ArrowRight, chromedp.KeyModifiers(chromedp.ModifierShift)))
	}
	b.do(chromedp.KeyEvent("2z"))
	if a, z := b.span(); !(a > from && z < to) {
		t.Errorf("z between rulers shows %g to %g of %g to %g", a, z, from, to)
	}
	if said := b.text("document.getElementById('said').textContent"); !regexp.MustCompile(`s to .*; at .*: v DS .* V, i D `).MatchString(said) {
		t.Errorf("a screen reader is told %q", said)
	}
}

// In forced colours the view is drawn in the reader's.
func TestBrowserForcedColours(t *testing.T) {
	page, _ := written(t, campaign(t, "a", "b"), 1e8)
	b := open(t, page)
	b.media("forced-colors: active")
	const used = `(() => {
		const c = document.getElementById('view'), d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data, seen = new Map();
		for (let k = 0; k < d.length; k += 4) { const x = d.slice(k, k + 3).join(' '); seen.set(x, (seen.get(x) ?? 0) + 1); }
		const colour = (name) => { const e = document.createElement('p'); e.style = ''; document.body.append(e); e.style.setProperty('color', name); const x = getComputedStyle(e).color.match(/\d+/g).slice(0, 3).join(' '); e.remove(); return x; };
		return [seen.get(colour('Canvas')) ?? 0, seen.get(colour('CanvasText')) ?? 0, d.length / 4].join(' ');
	})()`
	var ground, ink, all int
	for wait := 0; wait < 50 && ink < 3000; wait++ { // it is drawn anew in the next frame
		if _, err := fmt.Sscan(b.text(used), &ground, &ink, &all); err != nil {
			t.Fatal(err)
		}
		time.Sleep(100 * time.Millisecond)
	}
	if ground < all/2 || ink < 3000 {
		t.Errorf("of %d points of the view %d have the colour of the ground and %d that of text", all, ground, ink)
	}
}

// On A4 and on Letter nothing is wider than the sheet between its margins: upright, and
// across for the table of the shots, with many columns too. Headings stay with what
// follows; what is folded on the screen is open, what only serves there is left out.
func TestBrowserPaper(t *testing.T) {
	shots := campaign(t, "a", "b")
	for _, s := range shots[:2] {
		for k := range 6 {
			s.Conditions = append(s.Conditions, result.Condition{Key: fmt.Sprintf("state_%d", k), Value: math.NaN(), Text: "made up " + s.Capture})
		}
	}
	page, _ := written(t, shots, 1e8)
	b := open(t, page)
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	const dot = 25.4 / 96 // of a CSS pixel [mm]
	for name, sheet := range map[string][2]float64{"A4": {210, 297}, "Letter": {215.9, 279.4}} {
		for _, part := range []struct {
			name, places string
			width        float64
		}{{"upright", "main > section:not(#shots)", sheet[0] - 24}, {"across", "#shots", sheet[1] - 20}} {
			width := int64(part.width / dot)
			b.do(chromedp.EmulateViewport(width, 900))
			bad := b.text(fmt.Sprintf(`[...document.querySelectorAll('%s')].flatMap((s) => [s, ...s.querySelectorAll('*')]).filter((e) => e.checkVisibility() && !e.classList.contains('unseen') && e.getBoundingClientRect().right > %d.5).map((e) => e.outerHTML.slice(0, 100)).slice(0, 3).join('\n')`, part.places, width))
			if bad != "" {
				t.Errorf("%s, %s: beyond %d:\n%s", name, part.name, width, bad)
			}
		}
	}
	if size := b.number(`parseFloat(getComputedStyle(document.querySelector('#table td')).fontSize)`); size < 6 {
		t.Errorf("letters of the table are %g high on paper", size)
	}
	if got := b.text(`['.tools', 'nav', '#keys', '#trial', '#pointer'].filter((s) => document.querySelector(s).checkVisibility()).join()`); got != "" {
		t.Errorf("on paper there is %s", got)
	}
	for _, paper := range []chromedp.PaperSize{chromedp.PaperA4, chromedp.PaperLetter} {
		pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper), chromedp.PDFPrintBackground()))
		if err != nil || !strings.HasPrefix(string(pdf), "%PDF") || len(pdf) < 20000 {
			t.Errorf("printed %d bytes: %v", len(pdf), err)
		}
		if n := strings.Count(string(pdf), "/Type /Page\n"); n < 4 || n > 20 {
			t.Errorf("printed on %d sheets", n)
		}
	}
}

// With scripts switched off in the browser tables and figures are there, and nothing
// that needs one.
func TestBrowserScriptsOff(t *testing.T) {
	page, _ := written(t, campaign(t, "a", "b", "c"), 1e8)
	b := open(t, page)
	if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.Reload())
	got := b.text("[document.querySelectorAll('#table tbody tr').length, document.querySelectorAll('figure svg:not(.key)').length > 3, document.querySelectorAll('#basis tbody tr').length > 10, " +
		"document.getElementById('waveform').checkVisibility(), document.getElementById('filter').checkVisibility(), document.querySelectorAll('button').length === [...document.querySelectorAll('button')].filter((e) => !e.checkVisibility()).length].join()")
	if got != "4,true,true,false,false,true" {
		t.Errorf("rows, figures, basis, waveforms, filter, no button: %s", got)
	}
}
