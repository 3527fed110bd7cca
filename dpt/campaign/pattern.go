package campaign

import (
	"fmt"
	"path"
	"regexp"
	"strings"

	"slewbook/dpt/result"
)

// Pattern reads conditions from the names of captures. In its text a condition
// stands in braces, with a unit where the names have none: "{device}/{v_bus}_{i_load (A)}_R{rg_on}";
// {} stands for anything. It is held against the last parts of the path, as many
// as it has, without the extension.
type Pattern struct {
	text   string
	parts  int // of the path
	expr   *regexp.Regexp
	fields []listColumn
}

// Numbers in names: 650V, 1k2, 4R7, 0.5, m40C. The sign may be a letter.
const numberInName = `[-+mp]?[0-9]+(?:[.,][0-9]+)?[A-Za-zµΩ°]*[0-9]*`

// ParsePattern reads a pattern. Two conditions side by side with nothing
// between them are an error, since nothing tells where the first one ends.
func ParsePattern(text string) (*Pattern, error) {
	p := &Pattern{text: text, parts: strings.Count(text, "/") + 1}
	var expr strings.Builder
	expr.WriteString("^")
	seen := map[string]bool{}
	for rest := text; rest != ""; {
		open := strings.IndexByte(rest, '{')
		if open < 0 {
			expr.WriteString(regexp.QuoteMeta(rest))
			break
		}
		end := strings.IndexByte(rest, '}')
		if end < open {
			return nil, fmt.Errorf("pattern %q: a brace is not closed", text)
		}
		if open == 0 && rest != text {
			return nil, fmt.Errorf("pattern %q: two fields stand side by side; nothing tells where the first ends", text)
		}
		expr.WriteString(regexp.QuoteMeta(rest[:open]))
		inside := rest[open+1 : end]
		rest = rest[end+1:]
		if inside == "" {
			expr.WriteString(`[^/]*?`)
			continue
		}
		name, symbol, err := heading(inside)
		if err != nil {
			return nil, fmt.Errorf("pattern %q: %w", text, err)
		}
		f, err := findField(name)
		if err == nil {
			err = f.check(symbol)
		}
		if err == nil && seen[name] {
			err = fmt.Errorf("%s stands twice", name)
		}
		if err != nil {
			return nil, fmt.Errorf("pattern %q: %w", text, err)
		}
		seen[name] = true
		if f.unit == "" {
			expr.WriteString(`([^/]+?)`)
		} else {
			expr.WriteString("(" + numberInName + ")")
		}
		p.fields = append(p.fields, listColumn{field: f, symbol: symbol})
	}
	if len(p.fields) == 0 {
		return nil, fmt.Errorf("pattern %q names no condition; expected fields in braces, such as {v_bus}_{i_load}", text)
	}
	expr.WriteString("$")
	p.expr = regexp.MustCompile(expr.String())
	return p, nil
}

// Read returns the conditions in the name of a capture. A name of another form
// gives ok false; one of that form with a number that cannot be read an error.
func (p *Pattern) Read(capture string) (conditions []result.Condition, ok bool, err error) {
	capture, _, _ = strings.Cut(capture, "#")
	all := strings.Split(capture, "/")
	name := path.Join(all[max(0, len(all)-p.parts):]...)
	found := p.expr.FindStringSubmatch(name)
	if found == nil {
		return nil, false, nil
	}
	for k, f := range p.fields {
		text := found[k+1]
		if f.unit != "" && f.unit != count {
			if text, err = spelled(text, f.unit, f.symbol); err != nil {
				return nil, true, fmt.Errorf("name %q by pattern %q: %s: %w", name, p.text, f.name, err)
			}
		} else if f.unit == count {
			text = strings.TrimLeft(text, "0")
		}
		c, err := f.condition(text, f.symbol)
		if err != nil {
			return nil, true, fmt.Errorf("name %q by pattern %q: %w", name, p.text, err)
		}
		conditions = append(conditions, c)
	}
	return conditions, true, nil
}

var nameNumber = regexp.MustCompile(`^([-+mp]?)([0-9]+)(?:[.,]([0-9]+))?([A-Za-zµΩ°]*)([0-9]*)$`)

// spelled writes a number of a name the long way: "4R7" as "4.7 ohm", "1k2" as
// "1.2 kohm" (the letter codes of IEC 60062), "m40C" as "-40 °C", "12V5" as
// "12.5 V". A number without letters stays bare, for symbol to complete.
func spelled(text, base, symbol string) (string, error) {
	m := nameNumber.FindStringSubmatch(text)
	if m == nil {
		return "", fmt.Errorf("%q is no number", text)
	}
	sign, whole, fraction, letters, behind := m[1], m[2], m[3], m[4], m[5]
	if behind != "" && (fraction != "" || letters == "") {
		return "", fmt.Errorf("%q is no number", text)
	}
	if behind != "" {
		fraction = behind
	}
	number := map[string]string{"m": "-", "-": "-"}[sign] + whole
	if fraction != "" {
		number += "." + fraction
	}
	if letters == "" {
		return number, nil
	}
	return number + " " + unitOf(letters, base, symbol), nil
}

// unitOf completes the letters of a name to a unit.
func unitOf(letters, base, symbol string) string {
	switch {
	case base == "K" && (letters == "C" || letters == "c"):
		return "°C"
	case base == "ohm" && (letters == "R" || letters == "r" || letters == "E"):
		return "ohm"
	case base == "ohm" && letters == "K":
		return "kohm"
	case base == "ohm" && letters == "L": // milliohms, as printed on shunts
		return "mohm"
	case len([]rune(letters)) == 1 && strings.Contains("kMmuµnp", letters) && base != "K":
		return letters + base
	}
	return letters
}
