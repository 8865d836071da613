package estimate_test

import (
	"fmt"
	"sync"
	"testing"

	"delaybook/domain/estimate"
)

// Solutions that share a cache answer at the same time.
func TestSolutionsMayBeAskedAtOnce(t *testing.T) {
	t.Parallel()
	b := site(t)
	cache := estimate.NewCache(3)
	want, err := estimate.SolveCached(b, cache)
	if err != nil {
		t.Fatal(err)
	}
	var group sync.WaitGroup
	for i := range 4 {
		group.Go(func() {
			s, err := estimate.SolveCached(b, cache)
			if err != nil {
				t.Error(err)
				return
			}
			for k := range 10 {
				q := estimate.OffsetQuery{Rig: fmt.Sprintf("rig%d", (i*7+k)%60), First: "p0", Second: "s1"}
				got, err := s.Offset(q)
				again, err2 := want.Offset(q)
				if err != nil || err2 != nil || *got.Estimate != *again.Estimate {
					t.Errorf("%v: %v %v", q, err, err2)
				}
			}
			s.Reports()
		})
	}
	group.Wait()
}
