package api

import (
	"errors"
	"math"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/shopspring/decimal"
)

// A number is an exact decimal: it is read from the literal text of a JSON
// number, or from a text, and never passes through a binary fraction.
type number string

// UnmarshalJSONFrom implements json.UnmarshalerFrom.
func (n *number) UnmarshalJSONFrom(d *jsontext.Decoder) error {
	text, err := literal(d, "a number")
	if err == nil {
		*n = number(text)
	}
	return err
}

// MarshalJSONTo implements json.MarshalerTo.
func (n number) MarshalJSONTo(e *jsontext.Encoder) error {
	return e.WriteValue(jsontext.Value(n))
}

func exact(d decimal.Decimal) number { return number(d.String()) }

func exactOrNil(d *decimal.Decimal) *number {
	if d == nil {
		return nil
	}
	n := exact(*d)
	return &n
}

// A rateText is a frame rate as a client wrote it, as text or as a number.
type rateText string

// UnmarshalJSONFrom implements json.UnmarshalerFrom.
func (r *rateText) UnmarshalJSONFrom(d *jsontext.Decoder) error {
	text, err := literal(d, "a frame rate")
	if err == nil {
		*r = rateText(text)
	}
	return err
}

func literal(d *jsontext.Decoder, what string) (string, error) {
	switch d.PeekKind() {
	case '"', '0':
		v, err := d.ReadValue()
		if err != nil {
			return "", err
		}
		if v.Kind() == '0' {
			return string(v), nil
		}
		text, err := jsontext.AppendUnquote(nil, v)
		return string(text), err
	}
	if err := d.SkipValue(); err != nil {
		return "", err
	}
	return "", errors.New("it is not " + what)
}

// A visibility is "crew", "company" or a list of crew slugs.
type visibility struct {
	word  string
	crews []string
}

// UnmarshalJSONFrom implements json.UnmarshalerFrom.
func (v *visibility) UnmarshalJSONFrom(d *jsontext.Decoder) error {
	if d.PeekKind() == '[' {
		v.word = "listed"
		return json.UnmarshalDecode(d, &v.crews)
	}
	return json.UnmarshalDecode(d, &v.word)
}

// MarshalJSONTo implements json.MarshalerTo.
func (v visibility) MarshalJSONTo(e *jsontext.Encoder) error {
	if v.word == "listed" {
		return json.MarshalEncode(e, v.crews, json.FormatNilSliceAsNull(false))
	}
	return e.WriteToken(jsontext.String(v.word))
}

// ms rounds a duration for people and programs: a nanosecond is far below
// anything that is known, and hides the last digits of binary fractions.
func ms(x float64) float64 {
	const perMS = 1e6
	if math.Abs(x) > 1e9 {
		return x
	}
	return math.Round(x*perMS) / perMS
}

func msPtr(x float64) *float64 {
	r := ms(x)
	return &r
}

func msPair(x [2]float64) *[2]float64 { return &[2]float64{ms(x[0]), ms(x[1])} }

// chance writes a probability in millionths, rounded down and never as 1: nobody
// can promise that.
func chance(x float64) *float64 {
	const parts = 1e6
	r := min(math.Floor(x*parts), parts-1) / parts
	return &r
}

// weight rounds a share of something to millionths.
func weight(x float64) float64 {
	const parts = 1e6
	return math.Round(x*parts) / parts
}

// text returns what a pointer points to, "" for nil.
func text(p *string) string {
	if p == nil {
		return ""
	}
	return *p
}

// bearer returns the key of an Authorization header.
func bearer(header string) (key string, ok bool) {
	scheme, key, ok := strings.Cut(header, " ")
	return strings.TrimSpace(key), ok && strings.EqualFold(scheme, "Bearer")
}

// finite returns nil for an infinite or undefined number, which JSON does not have.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return msPtr(x)
}

// orEmpty makes an absent list an empty one.
func orEmpty(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}
