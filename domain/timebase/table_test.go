package timebase_test

import (
	"encoding/csv"
	"math/big"
	"os"
	"path/filepath"
	"testing"

	"delaybook/domain/timebase"
)

// table reads a file of testdata; its first comment lines name the published
// source. Each row maps the column's name to the value.
func table(tb testing.TB, name string) []map[string]string {
	tb.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	if len(records) < 2 {
		tb.Fatalf("%s has no rows", name)
	}
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, column := range records[0] {
			row[column] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func mustRate(tb testing.TB, s string) timebase.Rate {
	tb.Helper()
	r, err := timebase.ParseRate(s)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func mustSampleRate(tb testing.TB, s string) timebase.SampleRate {
	tb.Helper()
	r, err := timebase.ParseSampleRate(s)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func mustRat(tb testing.TB, s string) *big.Rat {
	tb.Helper()
	x, ok := new(big.Rat).SetString(s)
	if !ok {
		tb.Fatalf("%q is not a rational", s)
	}
	return x
}

// nearestFloat is the float64 that a correctly rounded function must return.
func nearestFloat(x *big.Rat) float64 {
	f, _ := x.Float64()
	return f
}
