package main

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

func TestRunRefusesNonsense(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"-replicates", "-1"}, {"-network", "-1"}, {"-workers", "0"}, {"-seed", "x"}} {
		var out bytes.Buffer
		if err := run(t.Context(), args, &out, &out); err == nil {
			t.Errorf("%v accepted", args)
		}
	}
}

func TestRunPrintsBothTables(t *testing.T) {
	t.Parallel()
	var out, stderr bytes.Buffer
	err := run(t.Context(), []string{"-replicates", "1", "-network", "1", "-only", "four", "-workers", "2"}, &out, &stderr)
	// One book per row says nothing about coverage: either verdict will do.
	if err != nil && !errors.Is(err, errCovers) {
		t.Fatal(err, stderr.String())
	}
	rows := strings.Count(out.String(), "\n| four microphones, one free-running camera |")
	if want := 2 * 6 * 3 * 3; rows != want {
		t.Errorf("%d rows, want %d: others x measurements x events x targets", rows, want)
	}
	if !strings.Contains(out.String(), "\n| 24 | 10 | 5 |") {
		t.Errorf("no row of 24 rigs and 10 %% bad measurements:\n%s", out.String())
	}
}

// A row of the whole study comes out the same when only its situation is asked for.
func TestRunOfOneSituationRepeatsItsRows(t *testing.T) {
	t.Parallel()
	rows := func(only string) string {
		var out, stderr bytes.Buffer
		if err := run(t.Context(), []string{"-replicates", "2", "-network", "0", "-only", only}, &out, &stderr); err != nil && !errors.Is(err, errCovers) {
			t.Fatal(err, stderr.String())
		}
		_, table, _ := strings.Cut(out.String(), "--- |\n")
		return table
	}
	if part := rows("card not named"); part == "" || !strings.HasSuffix(rows("clip, genlocked"), part) {
		t.Errorf("other rows than in a wider run:\n%s", part)
	}
}
