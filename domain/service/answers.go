package service

import (
	"sync"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
)

// answers keeps what was computed of the latest books: one solution per
// version, and the plans made from it. All of it can be computed again.
type answers struct {
	facts      translation
	components *estimate.Cache // solved components, which survive a change of version
	mu         sync.Mutex
	kept       []*computed // newest last
}

// A computed is what is known of one book.
type computed struct {
	book     *book.Book
	solve    sync.Once
	solution *estimate.Solution
	err      error
	mu       sync.Mutex
	plans    map[planKey]*Delays
}

type planKey struct {
	rig   domain.RigID
	limit string
}

const (
	keptAnswers      = 4
	cachedComponents = 64 // besides those that the latest book has
)

func newAnswers() *answers { return &answers{components: estimate.NewCache(cachedComponents)} }

// of returns what is computed of a book.
func (a *answers) of(b *book.Book) *computed {
	a.mu.Lock()
	defer a.mu.Unlock()
	for _, c := range a.kept {
		if c.book == b {
			return c
		}
	}
	c := &computed{book: b, plans: map[planKey]*Delays{}}
	if len(a.kept) == keptAnswers {
		a.kept = append(a.kept[:0], a.kept[1:]...)
	}
	a.kept = append(a.kept, c)
	return c
}

// solution returns the estimates of a book.
func (s *Service) solution(b *book.Book) (*estimate.Solution, error) {
	c := s.answers.of(b)
	c.solve.Do(func() { c.solution, c.err = estimate.SolveCached(s.answers.facts.book(b), s.answers.components) })
	return c.solution, c.err
}
