package reports

import (
	"fmt"
	"io"
	"math"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

type jsonAlign struct {
	Scope   string             `json:"scope"`
	Capture string             `json:"capture,omitempty"`
	Shots   int                `json:"shots,omitempty"`
	Current result.Measurement `json:"delay_id"`
	Gate    result.Measurement `json:"delay_vgs"`
	Loop    result.Measurement `json:"l_loop"`
	Error   *string            `json:"error"`
}

// WriteAlignJSON writes the delays and the loop inductance of one shot, or of
// all shots together, as one line of JSON. The scope is "shot" or "campaign".
func WriteAlignJSON(w io.Writer, a *result.Alignment) error {
	line := jsonAlign{Scope: "shot", Capture: a.Capture, Shots: a.Shots, Error: errorText(a.Err),
		Current: a.Current, Gate: a.Gate, Loop: a.Loop}
	if a.Capture == "" {
		line.Scope = "campaign"
	}
	return writeJSONLine(w, line)
}

// WriteAlignText writes the delays and loop inductances of shots, and of all
// together, for people: values with expanded uncertainty (k = 2), and the
// reason where there is none.
func WriteAlignText(w io.Writer, shots []*result.Alignment, all *result.Alignment, opt TextOptions) error {
	t := &textTable{opt: opt}
	rows := [][]string{{"capture", "lag of id behind vds", "L_loop", "from"}}
	for _, a := range append(shots[:len(shots):len(shots)], all) {
		name := a.Capture
		if a == all {
			name = "all shots"
		}
		if a.Err != nil {
			rows = append(rows, []string{name, "-", "-", a.Err.Error()})
			continue
		}
		_, note, _ := strings.Cut(a.Current.Definition, ", ")
		if d := a.Current.Delay; d != nil {
			note = d.Basis
		}
		if len(a.Current.Warnings) > 0 {
			note = a.Current.Warnings[0].Text
			if d := a.Current.Delay; d != nil && !math.IsNaN(d.Suggested) {
				note = "perhaps " + unit.Format(d.Suggested, "s", 3) + ": " + note
			}
		}
		rows = append(rows, []string{name, withU(a.Current), withU(a.Loop), note})
	}
	t.rows(Table{Rows: rows, Keys: 1, Words: AllWords})
	if v := all.Current.Value; math.Abs(v) > 2*all.Current.U {
		t.printf("\nIn the set-up file, once for these probes:\n\n    [channel.id]\n    delay = \"%.4g ns\"\n", v*1e9)
	}
	t.printf("\nA channel that lags by d reads x(t - d). Uncertainties are expanded, k = 2.\n")
	return t.write(w)
}

// withU writes a value with its expanded uncertainty, "-" if there is none.
func withU(m result.Measurement) string {
	if math.IsNaN(m.Value) {
		return "-"
	}
	factor, label := unit.Scale([]float64{m.Value}, m.Unit)
	if math.IsNaN(m.U) {
		return fmt.Sprintf("%.3g %s", m.Value*factor, label)
	}
	u := 2 * m.U * factor
	places := max(0, 1-int(math.Floor(math.Log10(u))))
	return fmt.Sprintf("%.*f ± %.*f %s", places, m.Value*factor, places, u, label)
}
