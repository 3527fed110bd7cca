package reports

import (
	"fmt"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform"
)

// hiddenNotes lists the warnings of quantities that no table shows, each once
// with the keys that it concerns, and without those that a shown quantity has.
func hiddenNotes(s *result.Shot) []string {
	keys, shown := map[string]string{}, map[string]bool{}
	var order []string
	for _, m := range s.Quantities {
		for _, w := range m.Warnings {
			txt := warningText(w)
			switch {
			case inTable(m.Key):
				shown[txt] = true
			case keys[txt] == "":
				keys[txt] = m.Key
				order = append(order, txt)
			default:
				keys[txt] += ", " + m.Key
			}
		}
	}
	var out []string
	for _, txt := range order {
		if !shown[txt] {
			out = append(out, keys[txt]+": "+txt)
		}
	}
	return out
}

// inTable tells whether a quantity has a column in the text tables.
func inTable(key string) bool {
	c, ok := result.FindColumn(key)
	return ok && c.Key == key && c.Text
}

// numberNotes numbers the footnotes from the first shot to the last.
func (t *textTable) numberNotes() {
	t.names()
	for _, s := range t.shots {
		for _, m := range s.Quantities {
			if inTable(m.Key) {
				t.marks(m.Warnings)
			}
		}
	}
}

// marks returns the footnote marks of warnings, "[1][2]".
func (t *textTable) marks(warnings []waveform.Warning) string {
	var out strings.Builder
	for _, w := range warnings {
		out.WriteString(t.mark(warningText(w)))
	}
	return out.String()
}

// mark returns the mark of a footnote. The same text has the same number
// everywhere.
func (t *textTable) mark(txt string) string {
	if t.number == nil {
		t.number = map[string]int{}
	}
	if t.number[txt] == 0 {
		t.notes = append(t.notes, txt)
		t.number[txt] = len(t.notes)
	}
	return fmt.Sprintf("[%d]", t.number[txt])
}

// warningText is a warning as a line for people.
func warningText(w waveform.Warning) string {
	txt := string(w.Code)
	if w.Channel != "" {
		txt += " (" + w.Channel + ")"
	}
	return txt + ": " + w.Text
}

func (t *textTable) footnotes() {
	for i, note := range t.notes {
		t.para(fmt.Sprintf("[%d] ", i+1), t.sentence(note))
	}
	if len(t.notes) > 0 {
		t.printf("\n")
	}
}
