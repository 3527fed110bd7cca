package loss

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"slewbook/dpt/curve"
	"slewbook/waveform/unit"
)

// ReadGrids reads the grids of e_on, e_off and e_rr that slewbook curves has written
// to the folder dir, or to grids below it.
func ReadGrids(dir string) (Energies, error) {
	var e Energies
	found := 0
	for _, to := range []struct {
		key  string
		grid **curve.Grid
	}{{"e_on", &e.On}, {"e_off", &e.Off}, {"e_rr", &e.Recovery}} {
		g, err := readGrid(dir, to.key)
		if err != nil {
			return e, err
		}
		if *to.grid = g; g != nil {
			found++
		}
	}
	if found == 0 {
		return e, fmt.Errorf("%s holds no grid: expected e_on.json, e_off.json, e_rr.json there or in its grids/, as slewbook curves --out writes them", dir)
	}
	return e, nil
}

// readGrid returns nil for a grid that is not there.
func readGrid(dir, key string) (*curve.Grid, error) {
	for _, path := range []string{filepath.Join(dir, "grids", key+".json"), filepath.Join(dir, key+".json")} {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		defer f.Close()
		g, err := curve.ReadGrid(f)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		return g, nil
	}
	return nil, nil
}

// quantity is a number of the file with its unit, NaN where it is not given.
type quantity[U symbol] struct {
	value float64
	given bool
}

// symbol is a unit as a type, so that the decoder knows it and tells the line.
type symbol interface{ of() string }

type (
	volt     struct{}
	ampere   struct{}
	ohm      struct{}
	second   struct{}
	hertz    struct{}
	henry    struct{}
	kelvin   struct{}
	perW     struct{}
	charge   struct{}
	one      struct{}
	fraction struct{}
)

func (volt) of() string     { return "V" }
func (ampere) of() string   { return "A" }
func (ohm) of() string      { return "ohm" }
func (second) of() string   { return "s" }
func (hertz) of() string    { return "Hz" }
func (henry) of() string    { return "H" }
func (kelvin) of() string   { return "K" }
func (perW) of() string     { return "K/W" }
func (charge) of() string   { return "C" }
func (one) of() string      { return "1" }
func (fraction) of() string { return "1" }

// UnmarshalText reads the number with its unit; a ratio also as a plain number.
func (q *quantity[U]) UnmarshalText(text []byte) error {
	var u U
	if _, is := any(u).(fraction); is {
		if x, err := strconv.ParseFloat(string(text), 64); err == nil {
			q.value, q.given = x, true
			return nil
		}
	}
	x, err := unit.Parse(string(text), u.of())
	q.value, q.given = x, true
	if err != nil {
		return &valueError{string(text), err}
	}
	return nil
}

// valueError is a value that is no quantity of its key. The decoder tells the line of
// one in quotes only.
type valueError struct {
	text string
	err  error
}

func (e *valueError) Error() string { return e.err.Error() }

// line returns where the value stands without quotes, 0 if that is not found.
func (e *valueError) line(doc string) int {
	bare := regexp.MustCompile(`[=\[,]\s*` + regexp.QuoteMeta(e.text) + `\s*(,|\]|#|$)`)
	for n, line := range strings.Split(doc, "\n") {
		if bare.MatchString(strings.TrimRight(line, "\r")) {
			return n + 1
		}
	}
	return 0
}

func (quantity[U]) unit() string { var u U; return u.of() }

// Unit returns the unit of a key of the converter's file, such as "converter.l"; "1" of
// a bare number, "" of words and of an on-state, which is a table.
func Unit(key string) (unit string, known bool) {
	at := reflect.TypeOf(document{})
	for _, name := range strings.Split(key, ".") {
		if at.Kind() == reflect.Slice {
			at = at.Elem()
		}
		if at.Kind() != reflect.Struct {
			return "", false
		}
		field, ok := at.FieldByNameFunc(func(n string) bool { f, _ := at.FieldByName(n); return f.Tag.Get("toml") == name })
		if !ok {
			return "", false
		}
		at = field.Type
	}
	if at.Kind() == reflect.Slice {
		at = at.Elem()
	}
	if q, ok := reflect.Zero(at).Interface().(interface{ unit() string }); ok {
		return q.unit(), true
	}
	if at == reflect.TypeFor[*float64]() {
		return "1", true
	}
	return "", true
}

// or returns the number, or another where it is not given.
func (q quantity[U]) or(x float64) float64 {
	if q.given {
		return q.value
	}
	return x
}

func (q quantity[U]) orNaN() float64 { return q.or(math.NaN()) }

func values[U symbol](qs []quantity[U]) []float64 {
	var out []float64
	for _, q := range qs {
		out = append(out, q.value)
	}
	return out
}

// document is the file.
type document struct {
	Converter struct {
		Kind        string             `toml:"kind"`
		Fsw         []quantity[hertz]  `toml:"f_sw"`
		V           quantity[volt]     `toml:"v_bus"`
		I           quantity[ampere]   `toml:"i"`
		Duty        quantity[fraction] `toml:"duty"`
		Vin         quantity[volt]     `toml:"v_in"`
		Vout        quantity[volt]     `toml:"v_out"`
		Iout        quantity[ampere]   `toml:"i_out"`
		L           quantity[henry]    `toml:"l"`
		M           *float64           `toml:"m"`
		CosPhi      *float64           `toml:"cos_phi"`
		Fout        quantity[hertz]    `toml:"f_out"`
		Synchronous bool               `toml:"synchronous"`
		Dead        quantity[second]   `toml:"t_dead"`
		RgOn        quantity[ohm]      `toml:"rg_on"`
		RgOff       quantity[ohm]      `toml:"rg_off"`
	} `toml:"converter"`
	Transistor deviceTable `toml:"transistor"`
	Diode      deviceTable `toml:"diode"`
	Cooling    struct {
		Tj       quantity[kelvin] `toml:"t_j"`
		TSink    quantity[kelvin] `toml:"t_sink"`
		TAmbient quantity[kelvin] `toml:"t_ambient"`
		Rth      quantity[perW]   `toml:"r_th"`
		RthU     quantity[one]    `toml:"r_th_u"`
		TjMax    quantity[kelvin] `toml:"t_j_max"`
	} `toml:"cooling"`
}

// deviceTable is [transistor] or [diode].
type deviceTable struct {
	Rth      quantity[perW]   `toml:"r_th"`
	RthU     quantity[one]    `toml:"r_th_u"`
	U        quantity[one]    `toml:"u"`
	QGate    quantity[charge] `toml:"q_gate"`
	VGate    quantity[volt]   `toml:"v_gate"`
	Recovery *bool            `toml:"recovery"`
	On       []struct {
		Tj quantity[kelvin]   `toml:"t_j"`
		V0 quantity[volt]     `toml:"v_0"`
		R  quantity[ohm]      `toml:"r"`
		I  []quantity[ampere] `toml:"i"`
		V  []quantity[volt]   `toml:"v"`
	} `toml:"on"`
}

// Parse reads the text of a converter's file of that name; the manual lists its keys.
func Parse(name string, text []byte) (Converter, error) {
	var doc document
	dec := toml.NewDecoder(strings.NewReader(string(text))).DisallowUnknownFields()
	if err := dec.Decode(&doc); err != nil {
		return New(), explain(name, string(text), err)
	}
	c, err := doc.converter()
	if err == nil {
		err = c.Validate()
	}
	if err != nil {
		return c, fmt.Errorf("%s: %w", name, err)
	}
	return c, nil
}

func (doc *document) converter() (Converter, error) {
	d, k := doc.Converter, doc.Cooling
	c := Converter{Kind: Kind(d.Kind), Fsw: values(d.Fsw), V: d.V.orNaN(), I: d.I.orNaN(), Duty: d.Duty.orNaN(),
		Vin: d.Vin.orNaN(), Vout: d.Vout.orNaN(), Iout: d.Iout.orNaN(), L: d.L.orNaN(), M: math.NaN(), CosPhi: math.NaN(), Fout: d.Fout.orNaN(),
		Synchronous: d.Synchronous, Dead: d.Dead.orNaN(), RgOn: d.RgOn.orNaN(), RgOff: d.RgOff.orNaN(),
		Cooling: Cooling{Tj: k.Tj.orNaN(), TSink: k.TSink.orNaN(), TAmbient: k.TAmbient.orNaN(), RthSink: k.Rth.orNaN(), RthSinkU: k.RthU.orNaN(), TjMax: k.TjMax.orNaN()}}
	if d.M != nil {
		c.M = *d.M
	}
	if d.CosPhi != nil {
		c.CosPhi = *d.CosPhi
	}
	if doc.Transistor.Recovery != nil {
		return c, errors.New("transistor.recovery: it is the diode's; expected under [diode]")
	}
	c.NoRecovery = doc.Diode.Recovery != nil && !*doc.Diode.Recovery
	var errT, errD error
	c.Transistor, errT = doc.Transistor.device("transistor")
	c.Diode, errD = doc.Diode.device("diode")
	return c, errors.Join(errT, errD)
}

func (t deviceTable) device(name string) (Device, error) {
	d := Device{OnU: t.U.orNaN(), Rth: t.Rth.orNaN(), RthU: t.RthU.orNaN(), QGate: t.QGate.orNaN(), VGate: t.VGate.orNaN()}
	for _, on := range t.On {
		c := Curve{Tj: on.Tj.orNaN(), V0: on.V0.or(0), R: on.R.or(0), I: values(on.I), V: values(on.V)}
		if !on.Tj.given {
			return d, fmt.Errorf("[[%s.on]] without t_j; expected the junction temperature that it holds for", name)
		}
		if line, points := on.V0.given || on.R.given, len(on.I) > 0 || len(on.V) > 0; line == points {
			return d, fmt.Errorf("[[%s.on]] at %s: expected v_0 and r, or the points i and v", name, unit.Format(on.Tj.value, "K", 4))
		}
		d.On = append(d.On, c)
	}
	slices.SortStableFunc(d.On, func(a, b Curve) int { return cmp.Compare(a.Tj, b.Tj) })
	return d, nil
}

func explain(name, doc string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		return fmt.Errorf("%s: a key that is not known; expected those that the manual lists under slewbook losses\n%s", name, strict.String())
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, _ := decode.Position()
		return fmt.Errorf("%s:%d: %w; quantities are written in quotes with their unit, such as v_bus = \"600 V\"\n%s", name, row, err, decode.String())
	}
	var value *valueError
	if errors.As(err, &value) {
		return fmt.Errorf("%s:%d: %w; quantities are written in quotes", name, value.line(doc), err)
	}
	return fmt.Errorf("%s: %w", name, err)
}
