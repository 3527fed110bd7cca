package reports

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func tableText(t interface{ Fatal(...any) }, table Table, opt TextOptions) string {
	var buf bytes.Buffer
	if err := table.Write(&buf, opt); err != nil {
		t.Fatal(err)
	}
	return buf.String()
}

// A table that is wider than a line first breaks the cells of many words, and continues
// below only where that does not suffice, with its keys again.
func TestTableFits(t *testing.T) {
	table := Table{Keys: 1, Words: 1, Rows: [][]string{
		{"shot", "E_on", "E_off", "why it has no more"},
		{"a", "12.5 µJ", "1.25 µJ", "one of the channels was over range where it would have been read"},
		{"bus-400V", "3 µJ"},
	}}
	for _, c := range []struct {
		opt  TextOptions
		want string
	}{
		{TextOptions{Width: 100, ASCII: true}, `
shot         E_on    E_off                                                why it has no more
a         12.5 uJ  1.25 uJ  one of the channels was over range where it would have been read
bus-400V     3 uJ
`},
		{TextOptions{Width: 66}, `
shot         E_on    E_off                      why it has no more
a         12.5 µJ  1.25 µJ      one of the channels was over range
                                     where it would have been read
bus-400V     3 µJ
`},
		{TextOptions{Width: 44}, `
shot         E_on    E_off
a         12.5 µJ  1.25 µJ
bus-400V     3 µJ

shot                      why it has no more
a         one of the channels was over range
               where it would have been read
bus-400V
`},
	} {
		if diff := cmp.Diff(strings.TrimPrefix(c.want, "\n"), tableText(t, table, c.opt)); diff != "" {
			t.Errorf("width %d (-want +got):\n%s", c.opt.Width, diff)
		}
	}
}

// Whatever the width, no word is lost, and no line is wider than it has to be: the keys
// with one other column at its narrowest.
func TestTableKeepsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "columns")
		cell := rapid.StringMatching(`[a-z]{1,9}( [a-z]{1,9}){0,7}|`)
		var rows [][]string
		for range rapid.IntRange(1, 4).Draw(t, "rows") {
			rows = append(rows, rapid.SliceOfN(cell, n, n).Draw(t, "row"))
		}
		table := Table{Rows: rows, Keys: 1, Words: AllWords, Indent: 2}
		opt := TextOptions{Width: rapid.IntRange(20, 160).Draw(t, "width")}
		columns := table.columns(opt)
		most := opt.Width
		for _, c := range columns[1:] {
			most = max(most, 2+columns[0].least+2+c.least)
		}
		text := tableText(t, table, opt)
		for _, line := range strings.Split(text, "\n") {
			if n := utf8.RuneCountInString(line); n > most {
				t.Fatalf("a line of %d characters, at most %d needed:\n%s", n, most, text)
			}
		}
		count := map[string]int{}
		for _, word := range strings.Fields(text) {
			count[word]++
		}
		for _, row := range rows {
			for _, txt := range row {
				for _, word := range strings.Fields(txt) {
					if count[word]--; count[word] < 0 {
						t.Fatalf("%q is lost:\n%s", word, text)
					}
				}
			}
		}
	})
}
