package convert

import (
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"delaybook/domain/air"
	"delaybook/domain/timebase"
)

// A FieldError says what is wrong with one field of a Query and what to send.
type FieldError struct {
	Field  string // as in a query string: "frames", "sample_rate"
	Detail string // what is wrong
	Send   string // what to send instead
}

// Errors is every fault of a query, rates and temperature first; never empty when
// returned.
type Errors []FieldError

// Error implements error.
func (e Errors) Error() string {
	var lines []string
	for _, f := range e {
		lines = append(lines, fmt.Sprintf("%s: %s; send %s", f.Field, f.Detail, f.Send))
	}
	return strings.Join(lines, "\n")
}

func (e *Errors) add(field, detail, send string) {
	*e = append(*e, FieldError{field, detail, send})
}

// input adds the error of a parser of another package.
func (e *Errors) input(field string, err error) {
	if in, ok := errors.AsType[*timebase.InputError](err); ok {
		e.add(field, fmt.Sprintf("%q: %s", in.Input, in.Detail), in.Send)
	}
}

// parsed is a query that was read.
type parsed struct {
	ms         *big.Rat
	exact      bool // ms is what the query says, not what the speed of sound makes of it
	metres     float64
	rate       timebase.Rate // zero: none
	sampleRate timebase.SampleRate
	at         air.Air
	bad        Errors
}

func parse(q Query) *parsed {
	p := &parsed{}
	p.settings(q)
	field, text := p.amount(q)
	if field == "" {
		return p
	}
	if value := p.number(field, text); len(p.bad) == 0 {
		p.delay(field, value)
	}
	return p
}

// settings reads what an amount is read with.
func (p *parsed) settings(q Query) {
	var err error
	if q.Rate != "" {
		p.rate, err = timebase.ParseRate(q.Rate)
		p.bad.input("rate", err)
	}
	if q.SampleRate == "" {
		q.SampleRate = DefaultSampleRate
	}
	p.sampleRate, err = timebase.ParseSampleRate(q.SampleRate)
	p.bad.input("sample_rate", err)
	celsius := air.DefaultCelsius
	if q.AirC != "" {
		value := p.number("air_c", q.AirC)
		if value == nil {
			return
		}
		celsius = timebase.Float(value)
	}
	p.at, err = air.At(celsius)
	p.bad.input("air_c", err)
}

// amount returns the one field that says how long.
func (p *parsed) amount(q Query) (field, text string) {
	var given []string
	for _, f := range []struct{ name, text string }{
		{"frames", q.Frames}, {"ms", q.MS}, {"samples", q.Samples}, {"metres", q.Metres}, {"feet", q.Feet},
	} {
		if f.text != "" {
			given = append(given, f.name)
			field, text = f.name, f.text
		}
	}
	switch {
	case len(given) == 0:
		p.bad.add("ms", "nothing to convert", "one of frames (with rate), ms, samples, metres or feet")
		return "", ""
	case len(given) > 1:
		for _, name := range given[1:] {
			p.bad.add(name, "a second amount beside "+given[0], "one of "+strings.Join(given, " or "))
		}
		return "", ""
	case field == "frames" && q.Rate == "":
		p.bad.add("rate", "frames have no duration without a frame rate", `the rate, like "29.97" or "25"`)
	}
	return field, text
}

// numberForm bounds what big.Rat is given: no exponents, whose expansion has no
// bound.
var numberForm = regexp.MustCompile(`^[+-]?[0-9]{1,18}(\.[0-9]{1,18}|/[0-9]{1,18})?$`)

// number reads a decimal or a fraction, exactly; nil if it is none.
func (p *parsed) number(field, text string) *big.Rat {
	text = strings.TrimSpace(text)
	if numberForm.MatchString(text) {
		if x, ok := new(big.Rat).SetString(text); ok { // fails for a denominator of 0
			return x
		}
	}
	send := `a decimal or a fraction, like "5", "166.83" or "1001/6"`
	if point := strings.Replace(text, ",", ".", 1); point != text && numberForm.MatchString(point) {
		send = strconv.Quote(point)
	}
	p.bad.add(field, fmt.Sprintf("%.40q is not a number", text), send)
	return nil
}

// delay sets ms and metres from the amount, and refuses what is too long.
func (p *parsed) delay(field string, value *big.Rat) {
	p.exact = true
	switch field {
	case "frames":
		p.ms = p.rate.SpanRat(value)
	case "ms":
		p.ms = value
	case "samples":
		perSample := p.sampleRate.SpanRat(1)
		p.ms = perSample.Mul(perSample, value)
	default:
		p.distance(field, timebase.Float(value))
		return
	}
	if new(big.Rat).Abs(p.ms).Cmp(big.NewRat(MaxMS, 1)) > 0 {
		p.bad.add(field, "the delay is longer than eleven days", fmt.Sprintf("at most %d ms", MaxMS))
		return
	}
	// Finite, so there is no error: |ms| <= MaxMS and the speed is below 400 m/s.
	p.metres, _ = p.at.Metres(timebase.Float(p.ms))
}

// distance sets ms from metres or feet.
func (p *parsed) distance(field string, value float64) {
	p.exact, p.metres = false, value
	if field == "feet" {
		p.metres = air.MetresOfFeet(value)
	}
	if value < 0 {
		p.bad.add(field, "a distance has no sign", strconv.Quote(strconv.FormatFloat(-value, 'g', -1, 64)))
		return
	}
	ms, err := p.at.MS(p.metres)
	if err != nil {
		most := air.MaxMetres
		if field == "feet" {
			most = air.FeetOfMetres(most)
		}
		p.bad.add(field, "the distance is too long", fmt.Sprintf("at most %.0f %s", most, field))
		return
	}
	p.ms, _ = timebase.RatOfMS(ms) // finite, as MS promises
}
