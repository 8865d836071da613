package main

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"strings"
	"sync/atomic"
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

func TestEachKeepsTheOrder(t *testing.T) {
	t.Parallel()
	items := make([]int, 100)
	got, err := each(t.Context(), 3, items, func(k, _ int) (int, error) { return k * k, nil })
	for k := range items {
		items[k] = k * k
	}
	if err != nil || !slices.Equal(got, items) {
		t.Errorf("%v, %v", got, err)
	}
}

func TestEachStops(t *testing.T) {
	t.Parallel()
	failure := errors.New("no")
	var done atomic.Int32
	_, err := each(t.Context(), 2, make([]int, 1000), func(k, _ int) (int, error) {
		done.Add(1)
		if k == 3 {
			return 0, failure
		}
		return 0, nil
	})
	if !errors.Is(err, failure) || done.Load() == 1000 {
		t.Errorf("error %v after %d of 1000", err, done.Load())
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = each(ctx, 2, make([]int, 1000), func(int, int) (int, error) { return 0, nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v after cancelling", err)
	}
}
