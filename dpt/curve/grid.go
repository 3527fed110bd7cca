package curve

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"slewbook/waveform/unit"
)

// GridSchema is the JSON Schema (draft 2020-12) of a hand-over grid.
//
//go:embed grid.schema.json
var GridSchema []byte

// gridFormat names the format and its version in the file.
const gridFormat = "slewbook-grid-1"

// Grid is a quantity over load current, bus voltage, junction temperature and
// gate resistor, for the designer of a converter. Axes are in SI base units and
// rise strictly; a condition that was not varied has one value, null where it
// is not known. Value and U hold the nodes with the gate resistor fastest, then
// temperature, bus, current.
type Grid struct {
	Format     string     `json:"format"`
	Quantity   string     `json:"quantity"`
	Unit       string     `json:"unit"`
	Definition string     `json:"definition"` // energy window or levels
	Axes       Axes       `json:"axes"`
	Value      []Num      `json:"value"`            // null where a node lies outside the data
	U          []Num      `json:"u"`                // standard uncertainty (k = 1), that of the linear interpolation included
	Shared     []Shared   `json:"shared,omitempty"` // the part of U that all nodes, and the grids of other quantities, share
	Model      string     `json:"model"`            // formula with its parameters
	Range      AxesRange  `json:"range"`            // of the measured conditions
	Points     int        `json:"points"`
	Misfit     Num        `json:"misfit"`     // part of U, relative to Value: what the form misses of the points; null where that cannot be told
	LeftOut    Num        `json:"left_out"`   // relative RMS of the check by leaving out points
	Conditions [][]string `json:"conditions"` // that all its shots have in common, and their values
	Source     []string   `json:"source"`     // result folders, settings, version

	Part string `json:"-"` // value of the condition by which the series was split, "" where it was not
}

// Shared is by how much one standard uncertainty of an input moves each node, signed,
// in the order of Value. Grids of one campaign move together by inputs of one name.
type Shared struct {
	SharedInput
	Effect []Num `json:"effect"`
}

// Axes are the values of each condition.
type Axes struct {
	I  []Num `json:"i"`
	V  []Num `json:"v"`
	Tj []Num `json:"tj"`
	Rg []Num `json:"rg"`
}

// AxesRange holds the smallest and largest measured value of each condition.
type AxesRange struct {
	I  [2]Num `json:"i"`
	V  [2]Num `json:"v"`
	Tj [2]Num `json:"tj"`
	Rg [2]Num `json:"rg"`
}

func (a *Axes) of(v Variable) *[]Num {
	return map[Variable]*[]Num{Current: &a.I, Bus: &a.V, Temperature: &a.Tj, Gate: &a.Rg}[v]
}

// Of returns that of one condition.
func (a *AxesRange) Of(v Variable) *[2]Num {
	return map[Variable]*[2]Num{Current: &a.I, Bus: &a.V, Temperature: &a.Tj, Gate: &a.Rg}[v]
}

// Num is a number that JSON shows as null where it is NaN.
type Num float64

// MarshalJSON implements json.Marshaler.
func (x Num) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(x))
}

// UnmarshalJSON implements json.Unmarshaler.
func (x *Num) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*x = Num(math.NaN())
		return nil
	}
	return json.Unmarshal(text, (*float64)(x))
}

// NewGrid samples a fit. axes gives round values for a condition; where it has
// none, current and bus get about eight values from the smallest to the largest
// set of repeats, the others those that were measured. Nodes outside the data hold no number.
func NewGrid(s *Series, f *Fit, axes map[Variable][]float64) *Grid {
	g := &Grid{Format: gridFormat, Quantity: s.Key, Unit: s.Unit, Definition: s.Definition, Model: f.Describe(s.Symbol, s.Unit), Points: len(f.Points), Misfit: Num(f.Misfit()), LeftOut: Num(f.Left.RMS), Conditions: [][]string{}, Source: []string{}}
	points := make([]Point, len(f.Points))
	for k, p := range f.Points {
		points[k] = p.Point
	}
	used := f.Model.Uses()
	for _, v := range Variables {
		lo, hi := rangeOf(points, v)
		if lo > hi {
			lo, hi = math.NaN(), math.NaN()
		}
		*g.Range.Of(v) = [2]Num{Num(lo), Num(hi)}
		values := axes[v]
		switch {
		case !slices.Contains(used, v):
			values = []float64{(lo + hi) / 2}
		case len(values) > 0:
		default:
			values = measuredAxis(points, v)
			if n := len(values); v == Current || v == Bus {
				values = roundAxis(values[0], values[n-1], 8)
			}
		}
		for _, x := range values {
			*g.Axes.of(v) = append(*g.Axes.of(v), Num(x))
		}
	}
	g.fill(f)
	return g
}

// roundAxis returns the ends and round values between, about n in all.
func roundAxis(lo, hi float64, n int) []float64 {
	least := (hi - lo) / float64(n-1)
	step := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 2.5, 5, 10} {
		if m*step >= least*(1-1e-9) {
			step *= m
			break
		}
	}
	out := []float64{lo}
	for k := math.Ceil(lo/step + 0.25); k*step < hi-0.25*step; k++ {
		out = append(out, k*step)
	}
	return append(out, hi)
}

func measuredAxis(points []Point, v Variable) []float64 {
	var out []float64
	for _, at := range clusters(points) {
		if x := at.Get(v); !math.IsNaN(x) {
			out = append(out, x)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// fill evaluates the nodes. To u is added what the straight lines between nodes
// miss of the fit at the middle of a node's cells, and the misfit of the form.
func (g *Grid) fill(f *Fit) {
	g.Shared = nil
	for _, in := range f.inputs() {
		g.Shared = append(g.Shared, Shared{SharedInput: in})
	}
	g.each(func(at At, ix [4]int) {
		e := f.Predict(at)
		y, u := e.Value, e.U
		if !e.Inside {
			y, u = math.NaN(), math.NaN()
		}
		for k, x := range e.Shared {
			if !e.Inside {
				x = math.NaN()
			}
			g.Shared[k].Effect = append(g.Shared[k].Effect, Num(x))
		}
		if bend := g.bend(f, at, ix); !math.IsNaN(u) {
			u = math.Hypot(u, bend)
			if !math.IsNaN(float64(g.Misfit)) {
				u = math.Hypot(u, y*float64(g.Misfit))
			}
		}
		g.Value, g.U = append(g.Value, Num(y)), append(g.U, Num(u))
	})
}

// bend returns the largest gap between the fit and a straight line at the
// middle of the steps to the node's neighbours.
func (g *Grid) bend(f *Fit, at At, ix [4]int) float64 {
	most := 0.0
	for d, v := range Variables {
		axis := *g.Axes.of(v)
		for _, k := range []int{ix[d] - 1, ix[d] + 1} {
			if k < 0 || k >= len(axis) {
				continue
			}
			other := at.With(v, float64(axis[k]))
			middle := at.With(v, (at.Get(v)+other.Get(v))/2)
			gap := math.Abs(f.Predict(middle).Value - (f.Predict(at).Value+f.Predict(other).Value)/2)
			most = max(most, gap)
		}
	}
	return most
}

// each visits the nodes in the order of Value.
func (g *Grid) each(visit func(At, [4]int)) {
	for a, i := range g.Axes.I {
		for b, v := range g.Axes.V {
			for c, tj := range g.Axes.Tj {
				for d, rg := range g.Axes.Rg {
					visit(At{float64(i), float64(v), float64(tj), float64(rg)}, [4]int{a, b, c, d})
				}
			}
		}
	}
}

// Check tells whether the grid is whole: its axes rise, its nodes are all
// there.
func (g *Grid) Check() error {
	if g.Format != gridFormat {
		return fmt.Errorf("grid format %q; expected %q", g.Format, gridFormat)
	}
	n := 1
	for _, v := range Variables {
		axis := *g.Axes.of(v)
		if len(axis) == 0 {
			return fmt.Errorf("grid of %s: axis %s is empty; expected one value at least", g.Quantity, v)
		}
		for k := 1; k < len(axis); k++ {
			if !(axis[k] > axis[k-1]) {
				return fmt.Errorf("grid of %s: axis %s holds %g after %g; expected rising values", g.Quantity, v, float64(axis[k]), float64(axis[k-1]))
			}
		}
		n *= len(axis)
	}
	if len(g.Value) != n || len(g.U) != n {
		return fmt.Errorf("grid of %s: %d values and %d uncertainties for %d nodes", g.Quantity, len(g.Value), len(g.U), n)
	}
	for _, s := range g.Shared {
		if len(s.Effect) != n {
			return fmt.Errorf("grid of %s: %d effects of %s for %d nodes", g.Quantity, len(s.Effect), s.Source, n)
		}
	}
	return nil
}

// ErrOutside says that a place lies outside the grid or its data.
var ErrOutside = errors.New("outside the data")

// At interpolates the grid linearly in each condition. Outside the data it
// refuses with an error that wraps ErrOutside. A condition that the grid does
// not vary must be the grid's own, within 2 % (or 2 K), or NaN for "the same".
func (g *Grid) At(at At) (Estimate, error) {
	return g.interpolate(at, false)
}

// Extrapolate is At that goes on beyond the ends of the axes along the
// outermost steps; Inside tells where it did so, and u grows with the distance:
// by what was added. Nodes without a number are still refused.
func (g *Grid) Extrapolate(at At) (Estimate, error) {
	return g.interpolate(at, true)
}

func (g *Grid) interpolate(at At, beyond bool) (Estimate, error) {
	out := Estimate{Inside: true}
	var low [4]int
	var share [4]float64
	clamped, moved := at, false
	for d, v := range Variables {
		axis := *g.Axes.of(v)
		x := at.Get(v)
		if len(axis) == 1 {
			if err := g.sameAs(v, float64(axis[0]), x); err != nil {
				if !beyond {
					return out, err
				}
				out.Inside = false
			}
			continue
		}
		first, last := float64(axis[0]), float64(axis[len(axis)-1])
		if math.IsNaN(x) {
			return out, fmt.Errorf("grid of %s: %s is not given, and the quantity depends on it", g.Quantity, v)
		}
		if x < first || x > last {
			if !beyond {
				return out, fmt.Errorf("grid of %s: %s = %s lies outside %s to %s: %w", g.Quantity, v, unit.Format(x, v.Unit(), 5), unit.Format(first, v.Unit(), 5), unit.Format(last, v.Unit(), 5), ErrOutside)
			}
			out.Inside = false
			clamped, moved = clamped.With(v, min(max(x, first), last)), true
		}
		k := 0
		for k < len(axis)-2 && x > float64(axis[k+1]) {
			k++
		}
		low[d], share[d] = k, (x-float64(axis[k]))/float64(axis[k+1]-axis[k])
	}
	out.Value, out.U, out.Shared = g.mix(low, share)
	if math.IsNaN(out.Value) {
		return out, fmt.Errorf("grid of %s at %g A, %g V, %g K, %g ohm: a corner of the cell holds no number: %w", g.Quantity, at.I, at.V, at.Tj, at.Rg, ErrOutside)
	}
	if moved {
		if edge, err := g.interpolate(clamped, true); err == nil && edge.Value != out.Value {
			out.U = math.Hypot(edge.U, out.Value-edge.Value)
		}
	}
	out.Expanded = 2 * out.U
	return out, nil
}

// Beyond lists the conditions in which a place lies beyond the ends of the axes, or is
// not the one that the grid was measured at.
func (g *Grid) Beyond(at At) []Variable {
	var out []Variable
	for _, v := range Variables {
		axis, x := *g.Axes.of(v), at.Get(v)
		n := len(axis)
		if n == 1 && g.sameAs(v, float64(axis[0]), x) != nil || n > 1 && (x < float64(axis[0]) || x > float64(axis[n-1])) {
			out = append(out, v)
		}
	}
	return out
}

func (g *Grid) sameAs(v Variable, own, x float64) error {
	room := 0.02 * math.Abs(own)
	if v == Temperature {
		room = 2
	}
	if math.IsNaN(own) || math.IsNaN(x) || math.Abs(x-own) <= room {
		return nil
	}
	return fmt.Errorf("grid of %s: measured at %s = %s only, asked for %s: %w", g.Quantity, v, unit.Format(own, v.Unit(), 5), unit.Format(x, v.Unit(), 5), ErrOutside)
}

// mix returns the multilinear mean of a cell's corners and of their u, which
// bounds that of the mean since they err together; what is shared keeps its signs.
func (g *Grid) mix(low [4]int, share [4]float64) (y, u float64, shared []float64) {
	shared = make([]float64, len(g.Shared))
	for corner := range 16 {
		weight, index := 1.0, 0
		for d, v := range Variables {
			k := low[d]
			if corner>>d&1 == 1 {
				weight *= share[d]
				k++
			} else {
				weight *= 1 - share[d]
			}
			if weight == 0 {
				break
			}
			index = index*len(*g.Axes.of(v)) + k
		}
		if weight != 0 {
			y += weight * float64(g.Value[index])
			u += math.Abs(weight) * float64(g.U[index])
			for k, s := range g.Shared {
				shared[k] += weight * float64(s.Effect[index])
			}
		}
	}
	return y, u, shared
}

// WriteJSON writes the grid as GridSchema describes it.
func (g *Grid) WriteJSON(w io.Writer) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(g)
}

// ReadGrid reads a grid from JSON and checks it.
func ReadGrid(r io.Reader) (*Grid, error) {
	g := &Grid{}
	dec := json.NewDecoder(r)
	dec.DisallowUnknownFields()
	if err := dec.Decode(g); err != nil {
		return nil, fmt.Errorf("grid: %w", err)
	}
	return g, g.Check()
}

// Rows returns the grid as a table: a row a node, SI base units, the unit in
// each header, empty cells outside the data.
func (g *Grid) Rows() [][]string {
	rows := [][]string{{"i [A]", "v [V]", "tj [K]", "rg [ohm]", g.Quantity + " [" + g.Unit + "]", "u(" + g.Quantity + ") [" + g.Unit + "]", "in data"}}
	n := 0
	g.each(func(at At, _ [4]int) {
		inside := "yes"
		if math.IsNaN(float64(g.Value[n])) {
			inside = "no"
		}
		rows = append(rows, []string{cell(at.I), cell(at.V), cell(at.Tj), cell(at.Rg), cell(float64(g.Value[n])), cell(float64(g.U[n])), inside})
		n++
	})
	return rows
}

func cell(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
