package reports

import (
	"fmt"
	"slices"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// note is a footnote: a warning that one shot or several have alike.
type note struct {
	text    string // of the first shot that has it
	capture string // of that shot
	more    int    // further shots with the same code for the same quantities and channel
}

// finding is a warning of a shot with the quantities of the table that it
// concerns; "" stands for the whole shot.
type finding struct {
	warning waveform.Warning
	keys    []string
}

// findings lists the warnings of a shot and of those of its quantities that
// have a column; quantities with the same warning share one.
func findings(s *result.Shot) []finding {
	var out []finding
	for _, w := range s.Warnings {
		w.Channel = inWords(s, w.Channel)
		out = append(out, finding{w, []string{""}})
	}
	if s.Err != nil {
		return out
	}
	for _, m := range s.Quantities {
		if !inTable(m.Key) {
			continue
		}
		for _, w := range m.Warnings {
			w.Channel = inWords(s, w.Channel)
			k := slices.IndexFunc(out, func(f finding) bool { return f.keys[0] != "" && warningText(f.warning) == warningText(w) })
			if k < 0 {
				out = append(out, finding{warning: w})
				k = len(out) - 1
			}
			out[k].keys = append(out[k].keys, m.Key)
		}
	}
	return out
}

// inTable tells whether a quantity has a column in the text tables.
func inTable(key string) bool {
	c, ok := result.FindColumn(key)
	return ok && c.Key == key && c.Text
}

// numberNotes gathers the footnotes: one for each code, channel and set of
// quantities, so that a campaign in which every shot rings has one note and not
// one for each shot. A second warning of a kind in one shot has its own.
func (t *textTable) numberNotes() {
	number := map[string]int{}
	for _, s := range t.shots {
		marks, count := map[string]string{}, map[string]int{}
		for _, f := range findings(s) {
			kind := fmt.Sprintf("%s|%s|%s", f.warning.Code, f.warning.Channel, strings.Join(f.keys, " "))
			count[kind]++
			id := fmt.Sprintf("%s|%d", kind, count[kind])
			if n := number[id]; n > 0 {
				t.notes[n-1].more++
			} else {
				t.notes = append(t.notes, &note{text: warningText(f.warning), capture: s.Capture})
				number[id] = len(t.notes)
			}
			for _, key := range f.keys {
				marks[key] += fmt.Sprintf("[%d]", number[id])
			}
		}
		t.marks = append(t.marks, marks)
	}
}

// warningText is a warning as a line for people.
func warningText(w waveform.Warning) string {
	txt := string(w.Code)
	if w.Channel != "" {
		txt += " (" + w.Channel + ")"
	}
	return txt + ": " + w.Text
}

// footnotes writes the notes; those that several shots share in the words of
// the first one.
func (t *textTable) footnotes() {
	for i, n := range t.notes {
		txt := t.sentence(n.text)
		switch {
		case n.more == 1:
			txt += fmt.Sprintf(" (%s; likewise in 1 more shot, see the JSON output)", t.sentence(n.capture))
		case n.more > 1:
			txt += fmt.Sprintf(" (%s; likewise in %d more shots, see the JSON output)", t.sentence(n.capture), n.more)
		}
		t.para(fmt.Sprintf("[%d] ", i+1), txt)
	}
	if len(t.notes) > 0 {
		t.printf("\n")
	}
}
