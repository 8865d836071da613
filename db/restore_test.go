package db_test

import (
	"errors"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/service"
)

func TestRestoreRefusesWhatIsNotAWholeBook(t *testing.T) {
	t.Parallel()
	s := newStore(t)
	restore := func(facts *domain.Facts) error {
		return s.Write(t.Context(), func(tx service.Tx) error { return tx.Restore(t.Context(), facts) })
	}
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	crew := func(v domain.Version) []domain.Crew { return []domain.Crew{{Slug: "red", Name: "Red", Version: v}} }
	for name, facts := range map[string]*domain.Facts{
		"nothing":           {},
		"without the first": {Changes: []domain.Change{{Version: 2, At: at}}, Crews: crew(2)},
		"a fact beyond":     {Changes: []domain.Change{{Version: 1, At: at}}, Crews: crew(2)},
	} {
		err := restore(facts)
		if refused, ok := errors.AsType[*domain.Error](err); !ok || refused.Code != domain.Malformed {
			t.Errorf("%s: %v", name, err)
		}
	}
	whole := &domain.Facts{Changes: []domain.Change{{Version: 1, At: at}, {Version: 2, At: at}}, Crews: crew(2)}
	if err := restore(whole); err != nil {
		t.Fatal(err)
	}
	if err := restore(whole); err == nil {
		t.Error("a book was restored over another")
	}
	newest, err := s.Newest(t.Context())
	if err != nil || newest != (domain.Point{Epoch: 1, Version: 2}) {
		t.Errorf("the book is at %+v, %v", newest, err)
	}
	if _, err := s.Facts(t.Context(), 0, domain.Point{Version: 2}); !errors.Is(err, service.ErrReplaced) {
		t.Errorf("read as of the epoch before: %v", err)
	}
	got, err := s.Facts(t.Context(), 0, newest)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Changes) != 2 || len(got.Crews) != 1 || got.Crews[0].Version != 2 {
		t.Errorf("read back %+v", got)
	}
}
