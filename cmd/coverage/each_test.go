package main

import (
	"context"
	"errors"
	"slices"
	"sync/atomic"
	"testing"
)

func TestEachKeepsTheOrder(t *testing.T) {
	t.Parallel()
	var got, want []int
	for k := range 100 {
		want = append(want, k*k)
	}
	err := each(t.Context(), 3, make([]int, 100), func(k, _ int) (int, error) { return k * k, nil }, func(r int) error {
		got = append(got, r)
		return nil
	})
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%v, %v", got, err)
	}
}

func TestEachStops(t *testing.T) {
	t.Parallel()
	failure := errors.New("no")
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	for name, c := range map[string]struct {
		ctx            context.Context
		working, emits error
		want           error
	}{
		"work fails": {t.Context(), failure, nil, failure},
		"emit fails": {t.Context(), nil, failure, failure},
		"cancelled":  {cancelled, nil, nil, context.Canceled},
	} {
		var done atomic.Int32
		err := each(c.ctx, 2, make([]int, 1000), func(k, _ int) (int, error) {
			done.Add(1)
			if k == 3 {
				return 0, c.working
			}
			return 0, nil
		}, func(int) error { return c.emits })
		if !errors.Is(err, c.want) || done.Load() == 1000 {
			t.Errorf("%s: %v after %d of 1000", name, err, done.Load())
		}
	}
}
