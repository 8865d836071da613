package service

import (
	"context"

	"delaybook/domain"
	"delaybook/domain/estimate"
)

// A NextMeasurement is what would narrow an offset of a rig most.
type NextMeasurement struct {
	For domain.JudgedPair
	estimate.Candidate
	Rig string // CREW.SLUG of the rig to measure on
}

// NextMeasurements returns, for the pair of a rig that is least sure, the
// measurements that would narrow it, best first. It is empty when nothing helps.
func (s *Service) NextMeasurements(ctx context.Context, r Request, name string) (RigView, []NextMeasurement, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return RigView{}, nil, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return RigView{}, nil, err
	}
	delays, err := s.delaysOf(ctx, b, rig, "")
	if err != nil {
		return RigView{}, nil, err
	}
	pair, ok := leastSure(delays.Pairs)
	if !ok {
		return showRig(b, rig), nil, nil
	}
	solution, err := s.solution(b)
	if err != nil {
		return RigView{}, nil, err
	}
	candidates, err := solution.NextMeasurements(offsetQuery(rig, pair.Picture, pair.Sound, pair.Destination))
	if err != nil {
		return RigView{}, nil, err
	}
	var next []NextMeasurement
	for _, c := range candidates {
		on, ok := rigOfKey(b, c.Rig)
		if !ok || !r.Caller.sees(on) {
			continue
		}
		next = append(next, NextMeasurement{For: pair.JudgedPair, Candidate: c, Rig: rigName(b, on)})
	}
	return showRig(b, rig), next, nil
}

// leastSure returns the pair that matters most to measure: a hard one without
// an offset first, then the one with the least chance.
func leastSure(pairs []DelayPair) (DelayPair, bool) {
	var least DelayPair
	found := false
	for _, p := range pairs {
		if p.Importance == domain.Ignore {
			continue
		}
		if !found || rank(p) < rank(least) {
			least, found = p, true
		}
	}
	return least, found
}

func rank(p DelayPair) float64 {
	rank := 0.0
	if p.Importance != domain.Hard {
		rank += 10
	}
	if p.Known {
		rank += 1 + p.Chance
	}
	return rank
}
