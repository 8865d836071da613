package converge_test

import (
	"errors"
	"flag"
	"math/big"
	"testing"

	"github.com/google/go-cmp/cmp"

	"delaybook/domain/converge"
	"delaybook/domain/law"
)

var rigs = flag.Int("converge.rigs", 800, "simulated rigs per limit")

// The limits: EBU R37-2007 table 1, Rec. ITU-R BT.1359-1 (detectable), ATSC IS-191 at encoder inputs.
var windows = map[string]law.Window{
	"ebu-r37": {Early: 40, Late: 60}, "itu-bt1359-detectable": {Early: 45, Late: 125}, "atsc-is191": {Early: 15, Late: 45},
}

func setup(w law.Window) converge.Setup {
	return converge.Setup{FrameMS: big.NewRat(1001, 30), Window: w, MaxFrames: 12, Target: 0.95, Rigs: *rigs, Checks: 6, Seed: 20}
}

// Keeping what was read brings more rigs into their limit and leaves them there. Go test
// -v -converge.rigs=10000 prints the study.
func TestBookConvergesBeforeHabit(t *testing.T) {
	t.Parallel()
	for name, w := range windows {
		book, habit, err := converge.Run(setup(w))
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s, book then habit: readings until good %.3f, %.3f; until good for good %.3f, %.3f; moves %.2f, %.2f; good after each reading %.4f, %.4f",
			name, converge.Mean(book.First), converge.Mean(habit.First), converge.Mean(book.Settled), converge.Mean(habit.Settled),
			book.Moves, habit.Moves, book.GoodAfter, habit.GoodAfter)
		for k := 1; k < len(book.GoodAfter); k++ {
			if book.GoodAfter[k] < habit.GoodAfter[k] {
				t.Errorf("%s: after reading %d good %v, by habit %v", name, k+1, book.GoodAfter[k], habit.GoodAfter[k])
			}
		}
		if converge.Mean(book.Settled) > converge.Mean(habit.Settled) || book.Moves > habit.Moves/2 {
			t.Errorf("%s: the book is not ahead: %+v %+v", name, book, habit)
		}
	}
}

func TestRunRepeats(t *testing.T) {
	t.Parallel()
	s := setup(windows["ebu-r37"])
	s.Rigs = 50
	one, oneHabit, err := converge.Run(s)
	two, twoHabit, err2 := converge.Run(s)
	if err != nil || err2 != nil || !cmp.Equal(one, two) || !cmp.Equal(oneHabit, twoHabit) {
		t.Errorf("a seed gives one outcome: %v %v", err, err2)
	}
	s.FrameMS = nil
	if _, _, err := converge.Run(s); !errors.Is(err, converge.ErrSetup) {
		t.Errorf("got %v", err)
	}
}
