package setup

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"slewbook/dpt"
	"slewbook/dpt/campaign"
	"slewbook/dpt/condition"
	"slewbook/dpt/result"
	"slewbook/waveform"
	"slewbook/waveform/unit"
)

// set checks the value of a key and stores it.
func (k key) set(s *Setup, c *Channel, r result.Role, v *unstable.Node) error {
	text := string(v.Data)
	if err := k.allows(r); err != nil {
		return err
	}
	switch to := k.target(s, c).(type) {
	case *[]float64:
		return k.list(to, r, v)
	case *bool:
		if v.Kind != unstable.Bool {
			return fmt.Errorf("%s; expected true or false", text)
		}
		*to = text == "true"
	case *int:
		n, err := strconv.Atoi(text)
		most := 32
		if k.check == countOf {
			most = 1000
		}
		if v.Kind != unstable.Integer || err != nil || n < 1 || n > most {
			return fmt.Errorf("%s; expected a whole number from 1 to %d without quotes", text, most)
		}
		*to = n
	case *string:
		if v.Kind != unstable.String {
			return fmt.Errorf("%s; expected words in quotes", text)
		}
		*to = text
		return k.checkWord(text)
	case *float64:
		f, err := k.number(text, r, v.Kind)
		if err != nil {
			return err
		}
		*to = f
		return k.checkNumber(f, text)
	}
	return nil
}

// list reads a list of quantities, each checked as one.
func (k key) list(to *[]float64, r result.Role, v *unstable.Node) error {
	if v.Kind != unstable.Array {
		return fmt.Errorf("%s; expected a list, such as [%q]", v.Data, k.example)
	}
	it := v.Children()
	for it.Next() {
		text := string(it.Node().Data)
		f, err := k.number(text, r, it.Node().Kind)
		if err == nil {
			err = k.checkNumber(f, text)
		}
		if err != nil {
			return err
		}
		*to = append(*to, f)
	}
	return nil
}

// number reads a quantity in quotes, or a plain number where the key has no
// unit.
func (k key) number(text string, r result.Role, kind unstable.Kind) (float64, error) {
	if k.unit == "" {
		if kind != unstable.Integer && kind != unstable.Float {
			return 0, fmt.Errorf("%s; expected a number without unit and quotes, such as %s", text, k.example)
		}
		f, err := strconv.ParseFloat(strings.ReplaceAll(text, "_", ""), 64)
		if err != nil || math.IsInf(f, 0) || math.IsNaN(f) {
			return 0, fmt.Errorf("%s; expected a finite number, such as %s", text, k.example)
		}
		return f, nil
	}
	u := k.unit
	if u == roleUnit {
		u = r.Unit()
	}
	return unit.Parse(text, u)
}

func (k key) checkNumber(f float64, text string) error {
	switch k.check {
	case positive:
		if f <= 0 {
			return fmt.Errorf("%s; expected more than zero", text)
		}
	case notNegative:
		if f < 0 {
			return fmt.Errorf("%s; expected zero or more", text)
		}
	case notZero:
		if f == 0 {
			return errors.New("0; expected another number: the channel would vanish")
		}
	case share:
		if f < 0 || f > 1 {
			return fmt.Errorf("%s; expected 0 to 100 %%", text)
		}
	}
	return nil
}

func (k key) checkWord(text string) error {
	if k.check == filterWords {
		return condition.CheckFilter(text)
	}
	switch k.check {
	case accuracyWords: // the unit of a fixed part is checked with the role
		return nil
	case dateWords:
		_, err := dpt.ParseDate(text)
		return err
	case curveWords:
		_, err := dpt.ParseCoss(text)
		return err
	case cornerWords:
		_, err := parseCorners(text)
		return err
	case namePattern:
		_, err := campaign.ParsePattern(text)
		return err
	case definitionSet:
		_, err := result.FindSet(text)
		return err
	case definitionChoice:
		_, err := parseChoices(text)
		return err
	}
	var allowed string
	ok := true
	switch k.check {
	case deviceKind:
		ok, allowed = text == "mosfet" || text == "igbt", "mosfet, igbt"
	case windowOff:
		_, ok = result.FindWindow(text, result.TurnOff)
		allowed = result.WindowNames(result.TurnOff)
	case windowOn:
		_, ok = result.FindWindow(text, result.TurnOn)
		allowed = result.WindowNames(result.TurnOn)
	case levelMethod:
		m := waveform.LevelMethod(text)
		ok, allowed = m == waveform.Shorth || m == waveform.HistogramMode, string(waveform.Shorth+", "+waveform.HistogramMode)
	}
	if !ok {
		return fmt.Errorf("%q; expected one of %s", text, allowed)
	}
	return nil
}

// parseChoices reads "dvdt_on=20-80, t_rr=line-90-25".
func parseChoices(text string) ([]result.Choice, error) {
	var cs []result.Choice
	for _, item := range strings.Split(text, ",") {
		key, name, ok := strings.Cut(strings.TrimSpace(item), "=")
		if !ok {
			return nil, fmt.Errorf("%q; expected KEY=NAME with commas between, such as dvdt_on=20-80", item)
		}
		if _, err := result.FindDefinition(key, name); err != nil {
			return nil, err
		}
		cs = append(cs, result.Choice{Key: key, Name: name})
	}
	return cs, nil
}

// condition returns the key's entry in the record of conditions.
func (k key) condition(s *Setup, text string) result.Condition {
	if f, ok := k.target(s, &Channel{}).(*float64); ok {
		return result.Condition{Key: k.record, Value: *f, Unit: k.unit, Text: text}
	}
	return words(k.record, text)
}

func words(key, text string) result.Condition {
	return result.Condition{Key: key, Value: math.NaN(), Text: text}
}
