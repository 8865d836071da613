package timebase

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// labels are the customary decimals of the 1001-rates. Where two decimals name
// one rate, the first is the one that Label prints.
var labels = []struct {
	text string
	rate Rate
}{
	{"23.976", Rate{24000, 1001}},
	{"23.98", Rate{24000, 1001}},
	{"29.97", Rate{30000, 1001}},
	{"47.952", Rate{48000, 1001}},
	{"47.95", Rate{48000, 1001}},
	{"59.94", Rate{60000, 1001}},
	{"119.88", Rate{120000, 1001}},
}

const anyRate = `"30000/1001", "29.97" or "25"`

// ParseRate reads an exact frame rate: an integer ("25"), a rational
// ("30000/1001", reduced) or one of the labels 23.976, 23.98, 29.97, 47.95,
// 47.952, 59.94 and 119.88, which stand for the 1001-rates. Spaces around it and
// zeros at the end of a decimal change nothing. Every other decimal is refused,
// because it could be meant as either of two rates; the error is an *InputError
// that names the candidates.
func ParseRate(s string) (Rate, error) {
	text := strings.TrimSpace(s)
	if num, den, ok := strings.Cut(text, "/"); ok {
		return parseRational(text, num, den)
	}
	whole, fraction, hasPoint := strings.Cut(text, ".")
	if !digits(whole) || (hasPoint && !digits(fraction)) {
		return Rate{}, notARate(text)
	}
	fraction = strings.TrimRight(fraction, "0")
	if fraction == "" {
		return parseRational(text, whole, "1")
	}
	for _, l := range labels {
		if l.text == whole+"."+fraction {
			return l.rate, nil
		}
	}
	return Rate{}, refuseDecimal(text)
}

func parseRational(text, num, den string) (Rate, error) {
	if !digits(num) || !digits(den) {
		return Rate{}, notARate(text)
	}
	n, errN := strconv.ParseInt(num, 10, 64)
	d, errD := strconv.ParseInt(den, 10, 64)
	if errors.Join(errN, errD) != nil {
		return Rate{}, inputError(text, "the number is too large for a frame rate", anyRate)
	}
	r, err := NewRate(n, d)
	if e, ok := errors.AsType[*InputError](err); ok {
		return Rate{}, inputError(text, e.Detail, e.Send)
	}
	return r, err
}

func notARate(text string) error {
	return inputError(text, "not a frame rate", anyRate)
}

// refuseDecimal names the label that a decimal is close to, else the fraction
// that it is exactly.
func refuseDecimal(text string) error {
	const maxLen = 30 // longer is no rate, and big.Rat would take it at any length
	value, ok := new(big.Rat).SetString(text)
	if len(text) > maxLen || !ok {
		return notARate(text)
	}
	const why = "this decimal is not an exact frame rate"
	f, _ := value.Float64()
	for _, l := range labels {
		near, send := l.rate.Float(), strconv.Quote(l.rate.String())+" or "+strconv.Quote(l.text)
		switch off := math.Abs(f/near - 1); {
		case off < 0.0005: // the integer beside a label is 0.001 away
			return inputError(text, why, send)
		case off < 0.005:
			return inputError(text, why, send+", or "+strconv.Quote(strconv.FormatInt(l.rate.num/1000, 10)))
		}
	}
	if !value.Num().IsInt64() || !value.Denom().IsInt64() {
		return notARate(text)
	}
	exact, err := NewRate(value.Num().Int64(), value.Denom().Int64())
	if err != nil {
		return inputError(text, why, anyRate)
	}
	return inputError(text, why, "the fraction that is meant, like "+strconv.Quote(exact.String()))
}

// digits reports whether s is one or more ASCII digits: signs, exponents,
// underscores and spaces are not.
func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// MarshalText implements encoding.TextMarshaler with the form of String. The
// zero Rate is an error.
func (r Rate) MarshalText() ([]byte, error) {
	if r.IsZero() {
		return nil, errors.New("timebase: the zero Rate has no text")
	}
	return []byte(r.String()), nil
}

// UnmarshalText implements encoding.TextUnmarshaler with ParseRate.
func (r *Rate) UnmarshalText(text []byte) error {
	got, err := ParseRate(string(text))
	if err != nil {
		return err
	}
	*r = got
	return nil
}

// MarshalJSON writes a string in the form of String, so that no reader takes
// the rate through a binary fraction. The zero Rate is an error.
func (r Rate) MarshalJSON() ([]byte, error) {
	text, err := r.MarshalText()
	if err != nil {
		return nil, err
	}
	return json.Marshal(string(text))
}

// UnmarshalJSON reads a string or a number; of a number it reads the literal
// text, so 29.97 is 30000/1001. As is the custom of encoding/json, null leaves r
// alone.
func (r *Rate) UnmarshalJSON(data []byte) error {
	text, err := jsonText(data)
	if err != nil || text == "" && !bytes.HasPrefix(data, []byte(`"`)) {
		return err
	}
	return r.UnmarshalText([]byte(text))
}

// jsonText returns the text of a JSON string or the literal of a JSON number,
// and "" for null.
func jsonText(data []byte) (string, error) {
	switch {
	case bytes.Equal(data, []byte("null")):
		return "", nil
	case bytes.HasPrefix(data, []byte(`"`)):
		var s string
		err := json.Unmarshal(data, &s)
		return s, err
	}
	return string(data), nil
}
