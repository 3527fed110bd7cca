package curve

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func inventedGrid(t *testing.T) (*Grid, *Fit) {
	t.Helper()
	points := campaign(rand.New(rand.NewPCG(4, 2)), invented, inventedP, 0.01, 0)
	f, err := Least(invented, points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	return NewGrid(&Series{Key: "e_on", Symbol: "E_on", Unit: "J", Definition: "i10-v2", Points: points}, f, nil), f
}

// TestGrid: between the nodes the grid is the surface within its u.
func TestGrid(t *testing.T) {
	g, _ := inventedGrid(t)
	for _, at := range []At{{60, 600, 350, 5}, {33, 450, 320, 3}, {95, 790, 390, 7}, {60, 600, 298.15, 2.5}} {
		e, err := g.At(at)
		if err != nil {
			t.Fatal(err)
		}
		want := invented.Eval(inventedP, at)
		if math.Abs(e.Value-want) > 2*e.U || e.U > 0.03*want || !e.Inside {
			t.Errorf("at %v: %g with u %g, invented %g", at, e.Value, e.U, want)
		}
	}
}

// TestGridRefuses: outside the data there is no number unless it is asked for.
func TestGridRefuses(t *testing.T) {
	g, _ := inventedGrid(t)
	for _, at := range []At{{130, 600, 350, 5}, {60, 300, 350, 5}, {60, 600, 450, 5}, {60, 600, 350, 10}} {
		if e, err := g.At(at); !errors.Is(err, ErrOutside) {
			t.Errorf("at %v: %v, %v; expected a refusal", at, e, err)
		}
		e, err := g.Extrapolate(at)
		if err != nil || e.Inside || e.U < 0.02*e.Value {
			t.Errorf("extrapolated to %v: %+v, %v; expected a marked value with a wide u", at, e, err)
		}
	}
	if _, err := g.At(At{1000.0 / 3, 600, 350, 5}); err == nil || !strings.Contains(err.Error(), "i = 333.33 A lies outside") {
		t.Errorf("%v; expected five digits with the unit", err)
	}
	if _, err := g.At(At{60, 600, math.NaN(), 5}); err == nil {
		t.Error("a temperature that is not given was taken for one")
	}
	// A grid at one temperature serves that one only.
	single := *g
	single.Axes.Tj = single.Axes.Tj[:1]
	single.Value, single.U = nil, nil
	_, f := inventedGrid(t)
	single.fill(f)
	if _, err := single.At(At{60, 600, 400, 5}); !errors.Is(err, ErrOutside) {
		t.Errorf("another temperature than the grid's: %v", err)
	}
	if _, err := single.At(At{60, 600, 298.5, 5}); err != nil {
		t.Error(err)
	}
	// Beyond the only temperature, with a gate resistor that is not told.
	single.Axes.Rg = single.Axes.Rg[:1]
	single.Value, single.U = nil, nil
	single.fill(f)
	if e, err := single.Extrapolate(At{60, 600, 400, math.NaN()}); err != nil || e.Inside {
		t.Errorf("extrapolated from the only temperature: %+v, %v", e, err)
	}
}

// TestGridCorner: a missing corner of the plan stays without a number.
func TestGridCorner(t *testing.T) {
	var points []Point
	for _, v := range []float64{400, 600, 800} {
		for _, i := range []float64{20, 40, 60, 80, 100} {
			if v == 800 && i > 60 {
				continue // not measured
			}
			points = append(points, Point{At: At{i, v, 300, 5}, Y: 1e-6 * i * v, U: 1e-6})
		}
	}
	f, err := Least(NewSurface(points, false), points, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	g := NewGrid(&Series{Key: "e_on", Unit: "J", Points: points}, f, map[Variable][]float64{Current: {20, 60, 100}, Bus: {400, 600, 800}})
	if e, err := g.At(At{95, 780, 300, 5}); !errors.Is(err, ErrOutside) {
		t.Errorf("in the missing corner: %v, %v", e, err)
	}
	if _, err := g.At(At{95, 420, 300, 5}); err != nil {
		t.Error(err)
	}
}

// TestGridJSON: what is written obeys the schema and reads back the same.
func TestGridJSON(t *testing.T) {
	g, _ := inventedGrid(t)
	g.Value[3], g.U[3] = Num(math.NaN()), Num(math.NaN())
	g.Conditions = [][]string{{"device", "invented"}}
	var out bytes.Buffer
	if err := g.WriteJSON(&out); err != nil {
		t.Fatal(err)
	}
	text := out.String()
	var schema, value any
	if err := json.Unmarshal(GridSchema, &schema); err != nil {
		t.Fatal(err)
	}
	check := func(text string) []string {
		if err := json.Unmarshal([]byte(text), &value); err != nil {
			t.Fatal(err)
		}
		return obey(schema.(map[string]any), schema.(map[string]any), value, "grid")
	}
	if faults := check(text); len(faults) > 0 {
		t.Errorf("the schema is not obeyed: %v", faults)
	}
	for _, bad := range [][2]string{{`"unit"`, `"units"`}, {`"slewbook-grid-1"`, `"other"`}, {`"points": 60`, `"points": "60"`}, {`"device"`, `"device","x"`}} {
		if !strings.Contains(text, bad[0]) {
			t.Fatalf("no %s in the file", bad[0])
		}
		if len(check(strings.Replace(text, bad[0], bad[1], 1))) == 0 {
			t.Errorf("the schema lets %s pass", bad[1])
		}
	}
	back, err := ReadGrid(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprintf("%v", back) != fmt.Sprintf("%v", g) {
		t.Error("the grid reads back otherwise")
	}
	if _, err := ReadGrid(strings.NewReader(strings.Replace(text, `"value": [`, `"value": [1,`, 1))); err == nil {
		t.Error("a grid with a value too many was read")
	}
	if rows := g.Rows(); len(rows) != len(g.Value)+1 || rows[4][4] != "" || rows[4][6] != "no" {
		t.Errorf("%d rows, %v", len(rows), rows[4])
	}
}

// obey checks the part of JSON Schema that GridSchema uses, and panics at
// another keyword, so that none goes unchecked.
func obey(root, schema map[string]any, v any, at string) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, at+": "+fmt.Sprintf(format, args...)) }
	for key, want := range schema {
		switch key {
		case "$schema", "$id", "title", "description", "$defs":
		case "$ref":
			name := strings.TrimPrefix(want.(string), "#/$defs/")
			faults = append(faults, obey(root, root["$defs"].(map[string]any)[name].(map[string]any), v, at)...)
		case "const":
			if v != want {
				fault("%v is not %v", v, want)
			}
		case "type":
			names, ok := want.([]any)
			if !ok {
				names = []any{want}
			}
			fits := false
			for _, name := range names {
				fits = fits || isType(name.(string), v)
			}
			if !fits {
				fault("%v is no %v", v, want)
			}
		case "required":
			for _, name := range want.([]any) {
				if o, ok := v.(map[string]any); ok && o[name.(string)] == nil {
					fault("no %v", name)
				}
			}
		case "properties":
			for name, x := range v.(map[string]any) {
				if sub, ok := want.(map[string]any)[name]; ok {
					faults = append(faults, obey(root, sub.(map[string]any), x, at+"."+name)...)
				}
			}
		case "additionalProperties":
			for name := range v.(map[string]any) {
				if schema["properties"].(map[string]any)[name] == nil {
					fault("%s is not foreseen", name)
				}
			}
		case "items":
			list, _ := v.([]any)
			for k, x := range list {
				faults = append(faults, obey(root, want.(map[string]any), x, fmt.Sprintf("%s[%d]", at, k))...)
			}
		case "minItems", "maxItems":
			list, _ := v.([]any)
			if n := float64(len(list)); key == "minItems" && n < want.(float64) || key == "maxItems" && n > want.(float64) {
				fault("%v items", n)
			}
		case "minimum":
			if x, ok := v.(float64); ok && x < want.(float64) {
				fault("%v is below %v", x, want)
			}
		default:
			panic("keyword " + key + " is not checked")
		}
	}
	return faults
}

func isType(name string, v any) bool {
	switch x := v.(type) {
	case nil:
		return name == "null"
	case string:
		return name == "string"
	case float64:
		return name == "number" || name == "integer" && x == math.Trunc(x)
	case []any:
		return name == "array"
	case map[string]any:
		return name == "object"
	}
	return false
}
