package main

import (
	"math"
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// An archive is restated by measuring the same files under another set: each choice
// of it then stands under the plain key, with its name, and is the number that the
// run under every definition has under its full key.
func TestRestated(t *testing.T) {
	all := explainedShot(t)
	for _, set := range result.Sets {
		s := exampleShot(t, func(f *definitionFlags) { f.set = set.Name })
		for _, c := range set.Choices {
			m, want := s.Quantity(c.Key), all.Quantity(c.Key+"."+c.Name)
			if want == nil {
				t.Fatalf("no %s.%s among all definitions", c.Key, c.Name)
			}
			if m.Value != want.Value && !(math.IsNaN(m.Value) && math.IsNaN(want.Value)) {
				t.Errorf("%s: %s is %g, under all definitions %s.%s is %g", set.Name, c.Key, m.Value, c.Key, c.Name, want.Value)
			}
			if c.Name != result.Default(c.Key, false) && !strings.HasPrefix(m.Definition, c.Name) {
				t.Errorf("%s: %s says that its definition is %q, not %s", set.Name, c.Key, m.Definition, c.Name)
			}
		}
	}
}
