package reports

import (
	"bytes"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// Every quantity has a sketch, which a terminal without anything but ASCII can show.
func TestSketches(t *testing.T) {
	for _, c := range result.Columns {
		var b bytes.Buffer
		if err := WriteDefinition(&b, c.Key, TextOptions{ASCII: true}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), "-> t\n") && !strings.Contains(b.String(), "t_a  | t_b") {
			t.Errorf("%s has no sketch:\n%s", c.Key, &b)
		}
		if k := strings.IndexFunc(b.String(), func(r rune) bool { return r > 0x7e }); k >= 0 {
			t.Errorf("%s: %q in ASCII", c.Key, b.String()[max(0, k-20):k+5])
		}
	}
}
