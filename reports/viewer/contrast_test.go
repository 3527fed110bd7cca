package viewer

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// colours are the custom properties of the style sheet.
type colours map[string]string

var (
	rootRule = regexp.MustCompile(`(?s):root\s*\{(.*?)\}`)
	property = regexp.MustCompile(`--([a-z0-9]+):\s*(#[0-9a-f]{6})`)
)

// scheme returns the colours that hold where exactly these media features do, later
// rules over earlier ones.
func scheme(t *testing.T, features ...string) colours {
	t.Helper()
	out := colours{}
	media := "" // of the rules that follow
	for _, part := range strings.Split(pageCSS, "@media ") {
		if media = ""; !strings.HasPrefix(part, ":root") {
			media, part, _ = strings.Cut(part, "{")
		}
		if !slices.ContainsFunc(strings.Split(media, " and "), func(feature string) bool {
			feature = strings.Trim(strings.TrimSpace(feature), "()")
			return feature != "" && !slices.Contains(features, feature)
		}) {
			for _, rule := range rootRule.FindAllStringSubmatch(part, -1) {
				for _, p := range property.FindAllStringSubmatch(rule[1], -1) {
					out[p[1]] = p[2]
				}
			}
		}
	}
	if len(out) < 18 {
		t.Fatalf("%d colours under %v", len(out), features)
	}
	return out
}

// luminance is the relative luminance of an sRGB colour, WCAG 2.2, "relative luminance".
func luminance(hex string) float64 {
	var sum float64
	for k, share := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(hex[1+2*k:3+2*k], 16, 8)
		if err != nil {
			panic(err)
		}
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += share * c
	}
	return sum
}

// contrast is the contrast ratio of two colours, WCAG 2.2, "contrast ratio".
func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// The formula against rows that are told of it: 21 for black on white by its
// definition; 4.54 for the grey #767676 on white, the lightest that serves for text
// (from memory); 4 for pure red on white (from memory).
func TestContrastFormula(t *testing.T) {
	for _, row := range []struct {
		colour string
		want   float64
	}{{"#000000", 21}, {"#767676", 4.54}, {"#ff0000", 4.00}} {
		if got := contrast("#ffffff", row.colour); math.Abs(got-row.want) > 0.005 {
			t.Errorf("%s on white: %.3f; want %.2f", row.colour, got, row.want)
		}
	}
}

// Each colour that the page sets on another has the contrast that WCAG 2.2 AA asks:
// text 4.5 (1.4.3), lines, borders and the mark of the focus 3 (1.4.11); in the
// schemes of more contrast 7 for text (1.4.6). The grid is decoration.
func TestContrast(t *testing.T) {
	text := map[string][]string{
		"paper":  {"ink", "soft", "link", "flag", "v", "i", "g", "p", "e"},
		"panel":  {"ink", "soft", "link", "flag"},
		"window": {"ink", "soft", "link", "flag"}, // a chosen row, a cell of the matrix, names in the view
	}
	graphics := map[string][]string{
		"paper":  {"line", "link", "flag", "v", "i", "g", "p", "e", "l0", "l1", "l2", "l3", "l4", "l5"},
		"panel":  {"line", "link"},
		"window": {"line", "link", "v", "i", "g", "p", "e"},
	}
	for _, features := range [][]string{
		{}, {"prefers-color-scheme: dark"}, {"prefers-contrast: more"}, {"prefers-contrast: more", "prefers-color-scheme: dark"}, {"print"},
	} {
		c := scheme(t, features...)
		name := fmt.Sprint(features)
		least := 4.5
		if slices.Contains(features, "prefers-contrast: more") {
			least = 7
		}
		check := func(pairs map[string][]string, least float64) {
			for _, ground := range slices.Sorted(maps.Keys(pairs)) {
				for _, on := range pairs[ground] {
					if got := contrast(c[ground], c[on]); got < least {
						t.Errorf("%s: %s %s on %s %s has a contrast of %.2f; want %g", name, on, c[on], ground, c[ground], got, least)
					}
				}
			}
		}
		check(text, least)
		check(graphics, 3)
	}
}
