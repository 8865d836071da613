package db_test

import (
	"cmp"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"delaybook/domain"

	gocmp "github.com/google/go-cmp/cmp"
)

func TestEachVersionIsReadAsItWasWritten(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	for i, want := range story(t) {
		v := domain.Version(i + 1)
		add(t, s, want)
		if got, err := s.Newest(t.Context()); got.Version != v || err != nil {
			t.Fatalf("Newest() = %d, %v after write %d", got, err, v)
		}
		if diff := gocmp.Diff(sortedFacts(want), factsOf(t, s, v-1, v), same); diff != "" {
			t.Errorf("version %d: written -, read +:\n%s", v, diff)
		}
	}
}

// Every interval of the story is compared with what follows from the writes by
// the rules of domain.Facts alone.
func TestTheBookCanBeReadAsOfAnyVersion(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	steps := story(t)
	for _, facts := range steps {
		add(t, s, facts)
	}
	for after := range len(steps) + 1 {
		for upTo := after; upTo <= len(steps); upTo++ {
			t.Run(fmt.Sprintf("(%d, %d]", after, upTo), func(t *testing.T) {
				got := factsOf(t, s, domain.Version(after), domain.Version(upTo))
				if diff := gocmp.Diff(merged(steps[after:upTo]), got, same); diff != "" {
					t.Errorf("written -, read +:\n%s", diff)
				}
			})
		}
	}
}

func TestReadingBeyondTheNewestVersionReadsWhatThereIs(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	if diff := gocmp.Diff(&domain.Facts{}, factsOf(t, s, 0, 5), same); diff != "" {
		t.Errorf("the empty book:\n%s", diff)
	}
	want := stamp(1, people())
	add(t, s, want)
	if diff := gocmp.Diff(sortedFacts(want), factsOf(t, s, 0, 5), same); diff != "" {
		t.Errorf("written -, read +:\n%s", diff)
	}
}

// merged puts the facts of successive versions together: of a device, a rig or
// a key the last one stays, of a rig with all revisions.
func merged(steps []*domain.Facts) *domain.Facts {
	all := &domain.Facts{}
	for _, f := range steps {
		f = sortedFacts(f)
		all.Changes = append(all.Changes, f.Changes...)
		all.Crews = append(all.Crews, f.Crews...)
		all.Keys = replace(all.Keys, f.Keys, func(k domain.Key) any { return k.ID }, nil)
		all.Devices = replace(all.Devices, f.Devices, func(d domain.Device) any { return d.ID }, nil)
		all.Stated = append(all.Stated, f.Stated...)
		all.CardSources = append(all.CardSources, f.CardSources...)
		all.Limits = append(all.Limits, f.Limits...)
		all.Rigs = replace(all.Rigs, f.Rigs, func(r domain.Rig) any { return r.ID }, func(old, new domain.Rig) domain.Rig {
			new.Revisions = slices.Concat(old.Revisions, new.Revisions)
			return new
		})
		all.PowerUps = append(all.PowerUps, f.PowerUps...)
		all.Measurements = append(all.Measurements, f.Measurements...)
		all.Settings = append(all.Settings, f.Settings...)
		all.Strikes = append(all.Strikes, f.Strikes...)
	}
	return all
}

// replace appends added to list, without those that they replace.
func replace[T any](list, added []T, key func(T) any, join func(old, new T) T) []T {
	for _, n := range added {
		if i := slices.IndexFunc(list, func(o T) bool { return key(o) == key(n) }); i >= 0 {
			if join != nil {
				n = join(list[i], n)
			}
			list = slices.Delete(list, i, i+1)
		}
		list = append(list, n)
	}
	return list
}

// sortedFacts returns the facts of one write in the order in which they are
// read: by identifier.
func sortedFacts(f *domain.Facts) *domain.Facts {
	s := *f
	s.Strikes = slices.SortedFunc(slices.Values(f.Strikes), func(a, b domain.StrikeFact) int {
		// No measurement is null, which Postgres puts last.
		if x, y := a.Measurement == (domain.MeasurementID{}), b.Measurement == (domain.MeasurementID{}); x != y {
			return cmp.Compare(fmt.Sprint(x), fmt.Sprint(y))
		}
		return cmp.Compare(a.Measurement.String()+a.Stated.String(), b.Measurement.String()+b.Stated.String())
	})
	return &s
}

// The lists on both sides of every length from which they go by COPY: 7
// measurements have 21 readings.
func TestListsOfAnyLengthAreReadAsTheyWereWritten(t *testing.T) {
	t.Parallel()
	s := told(t)
	first, v := 0, domain.Version(3)
	for _, n := range []int{1, 6, 7, 10, 11, 20, 21, 100} {
		v++
		want := stamp(v, manyTakes(t, first, n))
		add(t, s, want)
		first += n
		if diff := gocmp.Diff(want, factsOf(t, s, v-1, v), same); diff != "" {
			t.Errorf("%d measurements: written -, read +:\n%s", n, diff)
		}
	}
}

func TestInstantsAreCutOffBelowTheMicrosecond(t *testing.T) {
	t.Parallel()
	s := told(t)
	for i, instant := range []time.Time{
		time.Date(2026, 3, 14, 17, 0, 0, 1999, time.FixedZone("", 3600)),
		time.Date(1969, 12, 31, 23, 59, 59, 999999999, time.FixedZone("", -3600)), // before both epochs of the clocks
	} {
		v := domain.Version(4 + i)
		facts := sized(t, i, 1)
		facts.Measurements[0].TakenAt = instant
		add(t, s, stamp(v, facts))
		want := instant.Truncate(time.Microsecond)
		if got := factsOf(t, s, v-1, v).Measurements[0].TakenAt; !gocmp.Equal(want, got, same) {
			t.Errorf("%v came back as %v, want %v", instant, got, want)
		}
	}
}

// Facts reads table after table. A write that commits in between must not show
// in the later ones only.
func TestAReaderSeesAWriteWholeOrNotAtAll(t *testing.T) {
	t.Parallel()
	s := told(t)
	const last = 150
	var group sync.WaitGroup
	defer group.Wait()
	group.Go(func() {
		for v := domain.Version(4); v <= last; v++ {
			if err := tryAdd(t, s, stamp(v, domain.Facts{Settings: []domain.SettingsInForce{settings(int(v))}})); err != nil {
				t.Error(err)
			}
		}
	})
	for after := domain.Version(3); after < last && !t.Failed(); {
		facts := factsOf(t, s, after, last)
		if n := len(facts.Settings); n != len(facts.Changes) {
			t.Fatalf("%d settings in %d versions", n, len(facts.Changes))
		}
		after = max(after, facts.Last())
	}
}
