package service

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"delaybook/domain"
	"delaybook/domain/timebase"

	"github.com/shopspring/decimal"
)

// maxText is the most characters of a name, a note or another free text.
const maxText = 2000

type presence int

const (
	optional presence = iota
	required
)

func checkSlug(bad *domain.Fields, pointer, s string) domain.Slug {
	bad.Check(domain.Slug(s).Valid(), pointer, fmt.Sprintf("%q is not a slug", short(s)), domain.SlugForm)
	return domain.Slug(s)
}

// checkText accepts free text: bounded, and without control characters other
// than line ends and tabs, which would garble lists and sheets.
func checkText(bad *domain.Fields, pointer, s string, p presence) string {
	control := strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' })
	switch {
	case p == required && strings.TrimSpace(s) == "":
		bad.Add(pointer, "it is empty", "a text of 1 to "+strconv.Itoa(maxText)+" characters")
	case utf8.RuneCountInString(s) > maxText:
		bad.Add(pointer, "it is too long", "at most "+strconv.Itoa(maxText)+" characters")
	case control:
		bad.Add(pointer, "it has control characters", "plain text")
	}
	return s
}

// checkNumber accepts a finite number from least to most; a nil is absent.
func checkNumber(bad *domain.Fields, pointer string, x *float64, least, most float64, what string) {
	if x != nil && !(*x >= least && *x <= most) {
		bad.Add(pointer, fmt.Sprintf("%g is not %s", *x, what),
			fmt.Sprintf("a number from %s to %s", plain(least), plain(most)))
	}
}

func plain(x float64) string {
	if x == math.Trunc(x) {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// checkRate reads a frame rate; an empty text is the zero rate.
func checkRate(bad *domain.Fields, pointer, text string) timebase.Rate {
	if text == "" {
		return timebase.Rate{}
	}
	rate, err := timebase.ParseRate(text)
	addInputError(bad, pointer, err)
	return rate
}

// addInputError notes a fault that package timebase found.
func addInputError(bad *domain.Fields, pointer string, err error) {
	if err == nil {
		return
	}
	if in, ok := errors.AsType[*timebase.InputError](err); ok {
		bad.Add(pointer, in.Detail, in.Send)
		return
	}
	bad.Add(pointer, err.Error(), "a value in range")
}

// maxDecimal bounds the digits of a decimal, so that no value costs more to
// compute with than it is worth.
const maxDecimal = 20

// checkDecimal reads an exact decimal; an absent one is def.
func checkDecimal(bad *domain.Fields, pointer, text, def string) decimal.Decimal {
	if text == "" {
		text = def
	}
	d, err := decimal.NewFromString(text)
	if err != nil || len(text) > maxDecimal || d.Exponent() < -9 || d.Exponent() > 9 {
		bad.Add(pointer, fmt.Sprintf("%q is not a plain number", short(text)), "a plain decimal such as 5 or 0.25")
		return decimal.Zero
	}
	return d
}

func taken409(pointer, what, slug string) error {
	e := domain.Errorf(domain.Conflict, "There is a %s %q already.", what, slug)
	e.Fields.Add(pointer, "it is taken", "another slug, or change the "+what+" that has it")
	return e
}

// short cuts a text for an error message.
func short(s string) string {
	const most = 40
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "..."
}
