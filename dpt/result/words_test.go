package result

import "testing"

func TestIGBTWords(t *testing.T) {
	for in, want := range map[string]string{
		`a lag of id behind vds (trace "id"); channel.vgs.invert, vgs_max, idle`: `a lag of ic behind vce (trace "id"); channel.vge.invert, vgs_max, idle`,
		"the rated drain-source voltage and the drain current":                   "the rated collector-emitter voltage and the collector current",
		"vgs_other is switched": "vge_other is switched",
	} {
		if got := IGBTWords(in); got != want {
			t.Errorf("%q, expected %q", got, want)
		}
	}
}
