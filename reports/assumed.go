package reports

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// Assumption is what uncertainties rest on where neither captures nor set-up tell it.
type Assumption struct {
	Text  string // with the figures of the first shot
	Shots int    // how many rest on it
	Vary  bool   // whether its figures are others in some
}

// anyFigure is what may differ in an assumption from shot to shot.
var anyFigure = regexp.MustCompile(`[0-9]+(\.[0-9]+)? ([mµnkM]?[VA] )?`)

// Assumptions lists what the shots assume, once where only figures differ.
func Assumptions(shots []*result.Shot) []Assumption {
	var out []Assumption
	at := map[string]int{}
	for _, s := range shots {
		for _, text := range s.Assumed {
			key := anyFigure.ReplaceAllString(text, "#")
			k, ok := at[key]
			if !ok {
				k = len(out)
				at[key] = k
				out = append(out, Assumption{Text: text})
			}
			out[k].Shots++
			out[k].Vary = out[k].Vary || text != out[k].Text
		}
	}
	return out
}

// ofRole takes an assumption about a channel apart: "gain of vds known to 1 %".
var ofRole = regexp.MustCompile(`^(\w+ of )(\S+)( .*)$`)

// assumed tells what U rests on that nothing states, like things of several channels
// together.
func (t *textTable) assumed() {
	type part struct {
		before, after string
		roles         []string
	}
	var parts []part
	vary := false
	for _, a := range Assumptions(t.shots) {
		vary = vary || a.Vary
		words := ofRole.FindStringSubmatch(a.Text)
		if words == nil {
			words = []string{"", a.Text, "", ""}
		}
		k := slices.IndexFunc(parts, func(p part) bool { return p.before == words[1] && p.after == words[3] })
		if k < 0 {
			k = len(parts)
			parts = append(parts, part{before: words[1], after: words[3]})
		}
		parts[k].roles = append(parts[k].roles, words[2])
	}
	if len(parts) == 0 {
		return
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(a.before, b.before) })
	texts := each(parts, func(p part) string { return p.before + strings.Join(p.roles, ", ") + p.after })
	text := "Assumed for U, since nothing states it: " + strings.Join(texts, "; ") + ifElse(vary, " (figures of the first shot)", "") + "."
	if strings.Contains(text, "bandwidth of") {
		text += " What a channel of less bandwidth does to the edges is not in U."
	}
	t.para("", text)
}
