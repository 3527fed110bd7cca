package result

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
)

// Number is a float that JSON can hold: NaN and infinities become null, every
// other value its shortest text that reads back to the same bits; null reads as
// NaN.
type Number float64

// MarshalJSON writes the number.
func (x Number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(x))
}

// UnmarshalJSON reads it.
func (x *Number) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*x = Number(math.NaN())
		return nil
	}
	return json.Unmarshal(text, (*float64)(x))
}

// Object is a JSON object whose members keep their order.
type Object []Member

// Member is one of them.
type Member struct {
	Key   string
	Value any
}

// MarshalJSON writes the members in their order.
func (o Object) MarshalJSON() ([]byte, error) {
	buf := []byte{'{'}
	for i, m := range o {
		if i > 0 {
			buf = append(buf, ',')
		}
		for _, part := range []any{m.Key, m.Value} {
			text, err := Encode(part)
			if err != nil {
				return nil, err
			}
			buf = append(append(buf, text...), ':')
		}
		buf = buf[:len(buf)-1]
	}
	return append(buf, '}'), nil
}

// UnmarshalJSON reads the members in their order, each value a json.RawMessage.
func (o *Object) UnmarshalJSON(text []byte) error {
	*o = nil
	dec := json.NewDecoder(bytes.NewReader(text))
	if open, err := dec.Token(); err != nil || open != json.Delim('{') {
		return fmt.Errorf("found %.20s; expected an object", text)
	}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return err
		}
		var value json.RawMessage
		if err := dec.Decode(&value); err != nil {
			return err
		}
		*o = append(*o, Member{key.(string), value})
	}
	return nil
}

// Encode returns v as one line of JSON, without HTML escapes and newline.
func Encode(v any) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return bytes.TrimSuffix(buf.Bytes(), []byte("\n")), err
}
