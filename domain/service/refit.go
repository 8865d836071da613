package service

import (
	"context"
	"slices"
	"strings"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
)

// refitGrowth is by how much the degrees of freedom behind the variances must
// grow for another fit to be worth it.
const refitGrowth = 1.1

// Refit fits the variances to the book when there is enough new to learn from,
// and makes them the variances in use: a version of its own. It reports whether
// it did.
func (s *Service) Refit(ctx context.Context) (bool, error) {
	b := s.current.Load()
	due, err := s.refitDue(ctx, b)
	if err != nil || !due {
		return false, err
	}
	fitted, err := estimate.Fit(s.answers.facts.book(b))
	if err != nil {
		return false, err
	}
	rows := varianceRows(fitted)
	done := false
	_, err = s.commit(ctx, Request{Caller: Operator()}, func(now *book.Book, next domain.Version) (draft, error) {
		done = false
		if v := now.Variances(); v != nil && v.FittedAt >= b.Version() {
			return draft{}, nil // another process was faster
		}
		done = true
		fit := domain.Variances{Rows: rows, FittedAt: b.Version(), PooledDF: fitted.PooledDF(), Version: next}
		return draft{facts: &domain.Facts{Variances: []domain.Variances{fit}}}, nil
	})
	return done && err == nil, err
}

func (s *Service) refitDue(ctx context.Context, b *book.Book) (bool, error) {
	if b.Version() == 0 || len(b.Rigs()) == 0 {
		return false, nil
	}
	solution, err := s.solution(b)
	if err != nil {
		return false, err
	}
	used := b.Variances()
	switch {
	case used == nil:
		return solution.PooledDF() > refitGrowth*priorDF(solution), nil
	case used.Version == b.Version():
		return false, nil // nothing was added since the last fit
	}
	if solution.PooledDF() > refitGrowth*used.PooledDF {
		return true, nil
	}
	test, ok := solution.ClassTest()
	return ok && string(test.Phase) != phaseInUse(used), nil
}

// priorDF is what the priors alone count for.
func priorDF(s *estimate.Solution) float64 {
	sum := 0.0
	for _, v := range s.Variances() {
		sum += v.NuPrior
	}
	return sum
}

func phaseInUse(v *domain.Variances) string {
	for _, row := range v.Rows {
		if row.Phase != "" {
			return row.Phase
		}
	}
	return ""
}

func varianceRows(s *estimate.Solution) []domain.Variance {
	var rows []domain.Variance
	for _, v := range s.Variances() {
		rows = append(rows, domain.Variance{
			Class: v.Class, MS2: v.MS2, PriorMS2: v.PriorMS2, NuPrior: v.NuPrior, Phase: string(v.Phase),
		})
	}
	slices.SortFunc(rows, func(a, b domain.Variance) int { return strings.Compare(a.Class, b.Class) })
	return rows
}

// refitRest is how many times as long as a fit took the next one has to wait,
// so that fitting a large book leaves the machine to its users.
const refitRest = 10

// Tend fits the variances anew whenever the book has grown enough, until ctx ends.
func (s *Service) Tend(ctx context.Context) {
	rest := time.NewTimer(0)
	defer rest.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.grown:
		}
		select {
		case <-ctx.Done():
			return
		case <-rest.C:
		}
		begin := s.now()
		if _, err := s.Refit(ctx); err != nil && ctx.Err() == nil {
			s.log.ErrorContext(ctx, "fit the variances", "err", err)
		}
		rest.Reset(refitRest * s.now().Sub(begin))
	}
}
