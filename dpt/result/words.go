package result

import (
	"regexp"
	"strings"
)

// igbtWords are the words of an IGBT for those of a MOSFET: names of roles, which both
// know, and terminals.
var igbtWords = []struct {
	word *regexp.Regexp
	igbt string
}{
	{regexp.MustCompile(`\bvds\b`), "vce"},
	{regexp.MustCompile(`\bid\b`), "ic"},
	{regexp.MustCompile(`\bvgs\b`), "vge"},
	{regexp.MustCompile(`\bvgs_other\b`), "vge_other"},
	{regexp.MustCompile(`\bdrain-source\b`), "collector-emitter"},
	{regexp.MustCompile(`\bgate-source\b`), "gate-emitter"},
	{regexp.MustCompile(`\bdrain\b`), "collector"},
}

// IGBTWords puts a sentence in the words of an IGBT. What stands in quotes is the
// user's own and is kept.
func IGBTWords(text string) string {
	parts := strings.Split(text, `"`)
	for k := 0; k < len(parts); k += 2 {
		for _, w := range igbtWords {
			parts[k] = w.word.ReplaceAllString(parts[k], w.igbt)
		}
	}
	return strings.Join(parts, `"`)
}
