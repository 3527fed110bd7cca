package viewer

import (
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"iter"
	"math"
	"slices"
	"strconv"
	"strings"

	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

//go:embed page.css
var pageCSS string

//go:embed page.js
var pageJS string

//go:embed page.html
var pageHTML string

// Mark returns how a page begins, and nothing else does.
func Mark() string {
	mark, _, _ := strings.Cut(pageHTML, "<head>")
	return mark
}

// Report is what a page shows.
type Report struct {
	Title   string
	Version string // of the program that wrote it
	Shots   []*result.Shot
	Charts  []*result.Chart
	Matrix  result.Matrix
	Margins []result.Margin
	Notes   []string // on the curves
	// Waveforms returns those of a shot as reports.ReadWaveforms does, nil where there
	// are none. It is asked twice: for their size, and for them.
	Waveforms func(*result.Shot) ([]byte, error)
	// Limit bounds the bytes of waveforms in the page; what does not fit is named
	// in it. First lists the captures that come before the others.
	Limit int
	First []string
}

// page is what the template sees.
type page struct {
	Report
	CSP        string
	CSS        template.CSS
	JS         template.JS
	Summary    []fact
	Verdicts   []fact
	Extremes   []extreme
	Ratings    [][]linked // the margins, below their head
	Charts     []chart
	ChartNotes []string // that all charts share
	Matrix     *matrix
	Conditions []column // that are not the same in all shots
	Columns    []column
	Rows       []row
	Footnotes  []string
	Refused    []fact
	Basis      basis
	Codes      []codeCount
	Data       template.JS
	texts      map[string]int // their numbers in Data
	stored     []*result.Shot // whose waveforms are in the page
	err        error          // of reading them
	Size       string
	Left       int // shots whose waveforms did not fit
	Cautions   []string

	device *result.Shot // for whose kind the symbols are
}

type fact struct{ Name, Text string }

// extreme is the largest or smallest value of the campaign, and a link to its shot.
type extreme struct {
	Name, Help, Text, Capture string
	Link                      template.URL // the fragment, escaped already
}

// linked is a text that may lead to a shot.
type linked struct {
	Text string
	Link template.URL
}

// ratings are the margins in words; the worst shot of each is a link.
func ratings(margins []result.Margin) [][]linked {
	if len(margins) == 0 {
		return nil
	}
	var out [][]linked
	for k, row := range reports.MarginTexts(margins) {
		var cells []linked
		for _, text := range row {
			c := linked{Text: text}
			if k > 0 && text != "" && text == margins[k-1].Capture {
				c.Link = fragment(text) + template.URL("&focus="+margins[k-1].Key)
			}
			cells = append(cells, c)
		}
		out = append(out, cells)
	}
	return out
}

type codeCount struct {
	Code  waveform.Code
	Shots int
}

type column struct {
	Key, Symbol, Unit, Help string
	size                    float64
}

// row is a shot in the table.
type row struct {
	ID         template.URL // the fragment, escaped already: "shot=..."
	Capture    string
	Conditions []tableCell
	Error      string
	Codes      string
	Cells      []tableCell
	Notes      []string
	Marks      string // footnotes of the whole shot
	Traces     bool
}

type tableCell struct {
	Key   string
	Text  string
	Sort  string // the number behind it, "" for none
	Flags string // codes of its warnings
	Marks string // numbers of its footnotes
}

// cautions stand in every report.
var cautions = []string{
	"High voltage kills. A capacitor bank stays charged after a test; measure that it is discharged before you touch anything.",
	"Tests are for competent persons under the rules of their site and country. Nothing in this report says that a set-up is safe.",
}

// Write writes the page. It returns how many shots are in it with their waveforms.
func Write(w io.Writer, r Report) (embedded int, err error) {
	p := page{Report: r, JS: template.JS(pageJS), Cautions: cautions}
	p.device = &result.Shot{}
	if k := slices.IndexFunc(r.Shots, func(s *result.Shot) bool { return s.Err == nil }); k >= 0 {
		p.device = r.Shots[k]
	}
	p.ChartNotes = shared(r.Charts)
	for _, c := range r.Charts {
		p.Charts = append(p.Charts, newChart(c, p.ChartNotes))
	}
	p.Matrix = newMatrix(r.Matrix)
	has, err := p.store()
	if err != nil {
		return 0, err
	}
	p.conditions()
	p.table(has)
	css := pageCSS + fmt.Sprintf("#table { --columns: %d; }\n", 1+len(p.Conditions)+len(p.Columns)) // the size of letters on paper
	p.CSS = template.CSS(css)
	p.CSP = fmt.Sprintf("default-src 'none'; script-src '%s'; style-src '%s'; img-src data:; base-uri 'none'; form-action 'none'", hash(pageJS), hash(css))
	p.summary()
	p.Basis = newBasis(p.Shots, p.Columns, p.device)
	if p.Data, err = p.data(); err != nil {
		return 0, err
	}
	t, err := template.New("page").Funcs(template.FuncMap{"letters": letters, "marginNote": func() string { return reports.MarginNote }}).Parse(pageHTML)
	if err != nil {
		panic("viewer: " + err.Error())
	}
	return len(p.stored), errors.Join(t.Execute(w, &p), p.err)
}

// Many tells whether what is out of sight is better laid out only when it is scrolled to.
func (p *page) Many() bool { return len(p.Shots) > 100 }

// Embedded is how many shots are in the page with their waveforms.
func (p *page) Embedded() int { return len(p.stored) }

// Stored gives the waveforms one by one with their shot's name, so that they are never in memory together.
func (p *page) Stored() iter.Seq2[string, template.JS] {
	return func(yield func(string, template.JS) bool) {
		for _, s := range p.stored {
			text, err := p.Waveforms(s)
			if p.err = errors.Join(p.err, err); err != nil || !yield(s.Capture, template.JS(text)) {
				return
			}
		}
	}
}

// letters sets the subscripts of a symbol.
func letters(txt string) template.HTML {
	var b strings.Builder
	for _, r := range reports.Runs(txt) {
		text := template.HTMLEscapeString(r.Text)
		if r.Sub {
			text = "<sub>" + text + "</sub>"
		}
		b.WriteString(text)
	}
	return template.HTML(b.String())
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// store chooses waveforms up to the limit and returns whose are there. It reads none
// beyond those that fit.
func (p *page) store() (map[string]bool, error) {
	has := map[string]bool{}
	if p.Waveforms == nil {
		return has, nil
	}
	total := 0
	order := p.order()
	for k, s := range order {
		text, err := p.Waveforms(s)
		if err != nil {
			return nil, err
		}
		if text == nil {
			continue
		}
		if total+len(text) > p.Limit {
			p.Left = len(order) - k
			break
		}
		total += len(text)
		has[s.Capture] = true
		p.stored = append(p.stored, s)
	}
	p.Size = fmt.Sprintf("%.1f MB", float64(total)/1e6)
	return has, nil
}

// order lists the measured shots as they come into the page: those named first, then
// the worst of the summary, then one of each condition, then its repeats.
func (p *page) order() []*result.Shot {
	rank := map[string]int{}
	for _, x := range extremes {
		if m, s := p.extreme(x.key, x.most); m != nil {
			rank[s.Capture] = -1
		}
	}
	for _, name := range p.First {
		rank[name] = -2
	}
	var order []*result.Shot
	seen := map[string]bool{}
	for _, s := range p.Shots {
		if s.Err != nil {
			continue
		}
		order = append(order, s)
		point := ""
		for _, c := range s.Conditions {
			if c.Key != "repeat" && c.Key != "remark" {
				point += reports.ConditionText(c) + "\n"
			}
		}
		if seen[point] && rank[s.Capture] == 0 {
			rank[s.Capture] = 1
		}
		seen[point] = true
	}
	slices.SortStableFunc(order, func(a, b *result.Shot) int { return rank[a.Capture] - rank[b.Capture] })
	return order
}

// table makes columns and rows of the main quantities.
func (p *page) table(has map[string]bool) {
	for _, c := range result.Columns {
		if c.Text && slices.ContainsFunc(p.Shots, func(s *result.Shot) bool { m := s.Quantity(c.Key); return m != nil && !math.IsNaN(m.Value) }) {
			var values []float64
			for _, s := range p.Shots {
				if m := s.Quantity(c.Key); m != nil {
					values = append(values, m.Value)
				}
			}
			factor, label := unit.Scale(values, c.Unit)
			p.Columns = append(p.Columns, column{Key: c.Key, Symbol: reports.Symbol(c.Key, p.device), Unit: label, Help: c.Help, size: 1 / factor})
		}
	}
	notes := footnotes{at: map[string]int{}}
	for _, s := range p.Shots {
		p.Rows = append(p.Rows, p.newRow(s, has[s.Capture], &notes))
	}
	p.Footnotes = notes.texts()
}

func (p *page) newRow(s *result.Shot, traces bool, notes *footnotes) row {
	r := row{ID: fragment(s.Capture), Capture: s.Capture, Traces: traces}
	for _, c := range p.Conditions {
		cell := tableCell{Key: c.Key}
		if given := s.Condition(c.Key); given != nil {
			cell.Text = conditionText(*given)
			cell.Sort = cell.Text
			if !math.IsNaN(given.Value) {
				cell.Sort = strconv.FormatFloat(given.Value, 'g', -1, 64)
			}
		}
		r.Conditions = append(r.Conditions, cell)
	}
	if s.Err != nil {
		r.Error = s.Err.Error()
	}
	seen := map[waveform.Code]bool{}
	note := func(key string, w waveform.Warning) string {
		if !seen[w.Code] {
			seen[w.Code] = true
			r.Codes = strings.TrimSpace(r.Codes + " " + string(w.Code))
		}
		text := string(w.Code) + ": " + w.Text
		if key != "" {
			text = key + ": " + text
		}
		r.Notes = append(r.Notes, text)
		return notes.add(key+" "+string(w.Code)+" "+w.Channel, text, s.Capture)
	}
	for _, w := range s.Warnings {
		r.Marks = strings.TrimPrefix(r.Marks+","+note("", w), ",")
	}
	for _, c := range p.Columns {
		cell := tableCell{Key: c.Key, Text: "-"}
		if m := s.Quantity(c.Key); m != nil && s.Err == nil {
			if !math.IsNaN(m.Value) {
				cell.Text = reports.Figures(m.Value, m.U, c.size)
				cell.Sort = strconv.FormatFloat(m.Value, 'g', -1, 64)
			}
			for _, w := range m.Warnings {
				cell.Marks = strings.TrimPrefix(cell.Marks+","+note(c.Key, w), ",")
				if !strings.Contains(cell.Flags, string(w.Code)) {
					cell.Flags = strings.TrimSpace(cell.Flags + " " + string(w.Code))
				}
			}
		}
		r.Cells = append(r.Cells, cell)
	}
	return r
}

// footnotes are the warnings of all shots, in the order of the table: one for each
// code, channel and quantity.
type footnotes struct {
	at    map[string]int
	notes []footnote
}

type footnote struct {
	text, capture string // of the first shot that has it
	more          int    // further ones
}

// add takes up a warning and returns its number.
func (f *footnotes) add(kind, text, capture string) string {
	k, ok := f.at[kind]
	switch {
	case !ok:
		k = len(f.notes)
		f.at[kind] = k
		f.notes = append(f.notes, footnote{text: text, capture: capture})
	case f.notes[k].capture != capture:
		f.notes[k].more++
	}
	return strconv.Itoa(k + 1)
}

func (f *footnotes) texts() []string {
	var out []string
	for _, n := range f.notes {
		text := n.text + " (" + n.capture
		if n.more > 0 {
			text += fmt.Sprintf("; likewise in %d more", n.more)
		}
		out = append(out, text+")")
	}
	return out
}

// conditionText is the value of a condition.
func conditionText(c result.Condition) string {
	return strings.TrimPrefix(reports.ConditionText(c), c.Key+" ")
}

// conditions splits the conditions into those that all shots have alike, which go
// into the summary, and those that get a column.
func (p *page) conditions() {
	for _, s := range p.Shots {
		for _, c := range s.Conditions {
			if slices.ContainsFunc(p.Conditions, func(x column) bool { return x.Key == c.Key }) || slices.ContainsFunc(p.Summary, func(f fact) bool { return f.Name == c.Key }) {
				continue
			}
			texts, all := p.values(c.Key)
			if len(texts) > 12 {
				texts = append(texts[:12], fmt.Sprintf("and %d more", len(texts)-12))
			}
			p.Summary = append(p.Summary, fact{c.Key, strings.Join(texts, ", ")})
			if len(texts) > 1 || !all {
				p.Conditions = append(p.Conditions, column{Key: c.Key, Symbol: cmp.Or(reports.ConditionSymbol(c.Key), strings.ReplaceAll(c.Key, "_", " "))})
			}
		}
	}
	for k := range p.Summary {
		p.Summary[k].Name = cmp.Or(reports.ConditionSymbol(p.Summary[k].Name), strings.ReplaceAll(p.Summary[k].Name, "_", " "))
	}
}

// values lists the distinct values of a condition in their order, and tells whether
// all measured shots have one.
func (p *page) values(key string) (texts []string, all bool) {
	all = true
	var found []result.Condition
	for _, s := range p.Shots {
		c := s.Condition(key)
		if c == nil {
			all = all && s.Err != nil
			continue
		}
		if text := conditionText(*c); !slices.Contains(texts, text) {
			texts, found = append(texts, text), append(found, *c)
		}
	}
	slices.SortStableFunc(found, func(a, b result.Condition) int { return cmp.Compare(a.Value, b.Value) })
	for k, c := range found {
		texts[k] = conditionText(c)
	}
	return texts, all
}

// summary tells what was tested, what became of it, and the extremes.
func (p *page) summary() {
	measured, flagged := 0, 0
	counts := map[waveform.Code]int{}
	for k, s := range p.Shots {
		if s.Err != nil {
			p.Refused = append(p.Refused, fact{s.Capture, s.Err.Error()})
			continue
		}
		measured++
		if p.Rows[k].Codes != "" {
			flagged++
		}
		for _, code := range strings.Fields(p.Rows[k].Codes) {
			counts[waveform.Code(code)]++
		}
	}
	p.Ratings = ratings(p.Margins)
	p.Verdicts = []fact{{"measured", fmt.Sprint(measured)}, {"refused or failed", fmt.Sprint(len(p.Refused))}, {"with a warning", fmt.Sprint(flagged)}}
	for _, code := range waveform.Codes {
		if n := counts[code]; n > 0 {
			p.Codes = append(p.Codes, codeCount{code, n})
		}
	}
	for _, x := range extremes {
		if m, s := p.extreme(x.key, x.most); m != nil {
			c, _ := result.FindColumn(x.key)
			e := extreme{Name: reports.Symbol(x.key, p.device), Help: c.Help, Text: reports.Stated(m.Value, m.U, m.Unit), Capture: s.Capture,
				Link: fragment(s.Capture) + template.URL("&focus="+x.key)}
			if !x.most {
				e.Name = "smallest " + e.Name
			}
			p.Extremes = append(p.Extremes, e)
		}
	}
}

// extremes are the quantities whose worst the summary tells.
var extremes = []struct {
	key  string
	most bool
}{{"v_bus_off", true}, {"i_off", true}, {"v_peak", true}, {"i_peak", true}, {"v_overshoot", true}, {"dvdt_off", true}, {"dvdt_on", true}, {"e_on", true}, {"e_off", true}, {"vgs_max", true}, {"vgs_min", false}}

// extreme is the largest (smallest) value of a quantity and the shot it is of, nil
// where none was measured.
func (p *page) extreme(key string, most bool) (best *result.Measurement, of *result.Shot) {
	for _, s := range p.Shots {
		m := s.Quantity(key)
		if s.Err == nil && m != nil && !math.IsNaN(m.Value) && (best == nil || most && m.Value > best.Value || !most && m.Value < best.Value) {
			best, of = m, s
		}
	}
	return best, of
}

// jsonColumn and jsonData are what the script reads.
type jsonColumn struct {
	Key    string      `json:"key"`
	Symbol string      `json:"symbol"`
	Unit   string      `json:"unit"`
	Edge   result.Edge `json:"edge"`
	Help   string      `json:"help"`
}

// jsonShot is of one shot, on its own: the script reads those that it shows.
type jsonShot struct {
	Events []jsonEvent      `json:"events"`
	Q      map[string][]any `json:"q"` // value, u, from, to, definition and dominant part of u, both as numbers of texts
	Delay  result.Number    `json:"delay"`
}

type jsonEvent struct {
	Edge  result.Edge   `json:"edge"`
	Pulse int           `json:"pulse"`
	T     result.Number `json:"t"`
}

type jsonData struct {
	Columns []jsonColumn           `json:"columns"`
	Names   map[result.Role]string `json:"names"` // symbols of the traces
	Texts   []string               `json:"texts"` // each once
}

// data is what the script needs of all shots together. It numbers their texts.
func (p *page) data() (template.JS, error) {
	d := jsonData{Columns: []jsonColumn{}, Names: traceSymbols(p.device), Texts: []string{}}
	p.texts = map[string]int{}
	known := map[string]bool{}
	for _, s := range p.Shots {
		for m := range numbers(s) {
			known[m.Key] = true
			for _, text := range []string{m.Definition, m.Dominant} {
				if _, ok := p.texts[text]; !ok {
					p.texts[text] = len(d.Texts)
					d.Texts = append(d.Texts, text)
				}
			}
		}
	}
	for _, c := range result.Columns {
		if known[c.Key] {
			d.Columns = append(d.Columns, jsonColumn{c.Key, reports.Symbol(c.Key, p.device), c.Unit, c.Edge, c.Help})
		}
	}
	return script(d)
}

// numbers yields the quantities of a shot that have a number.
func numbers(s *result.Shot) iter.Seq[result.Measurement] {
	return func(yield func(result.Measurement) bool) {
		for _, m := range s.Quantities {
			if s.Err == nil && !math.IsNaN(m.Value) && !yield(m) {
				return
			}
		}
	}
}

// Each gives what the script needs of each shot, by its name, one by one.
func (p *page) Each() iter.Seq2[string, template.JS] {
	return func(yield func(string, template.JS) bool) {
		for _, s := range p.Shots {
			if s.Err != nil {
				continue
			}
			text, err := script(p.shot(s))
			if p.err = errors.Join(p.err, err); err != nil || !yield(s.Capture, text) {
				return
			}
		}
	}
}

func (p *page) shot(s *result.Shot) jsonShot {
	js := jsonShot{Events: []jsonEvent{}, Q: map[string][]any{}}
	elsewhere := map[result.Edge]bool{} // edges on the axis of another capture than the waveforms
	for _, e := range s.Events {
		if e.Capture != "" && e.Capture != s.Capture {
			elsewhere[e.Edge] = true
			continue
		}
		js.Events = append(js.Events, jsonEvent{e.Edge, e.Pulse, result.Number(e.T)})
	}
	for _, c := range s.Corrections {
		if c.Channel == result.Id && c.Kind == "delay" {
			js.Delay += result.Number(c.Value)
		}
	}
	for m := range numbers(s) {
		if c, _ := result.FindColumn(m.Key); elsewhere[c.Edge] {
			m.Over = waveform.Interval{From: math.NaN(), To: math.NaN()}
		}
		js.Q[m.Key] = []any{result.Number(m.Value), result.Number(m.U), result.Number(m.Over.From), result.Number(m.Over.To), p.texts[m.Definition], p.texts[m.Dominant]}
	}
	return js
}

// script writes a value as JSON that may stand in a page: <, > and & are escaped.
func script(v any) (template.JS, error) {
	text, err := json.Marshal(v)
	return template.JS(text), err
}

// traceSymbols names the traces by the symbols of the device's kind.
func traceSymbols(s *result.Shot) map[result.Role]string {
	names := map[result.Role]string{}
	for _, r := range result.Roles {
		names[r] = reports.RoleSymbol(r, s)
	}
	return names
}
