package service

import (
	"context"
	"encoding/json"
	"log/slog"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/bookfile"
	"delaybook/domain/estimate"
	"delaybook/domain/planfile"
)

// Offline returns a Service that answers from facts alone, as an export holds
// them. It has no store: writes and readings of earlier versions fail.
func Offline(facts *domain.Facts, now func() time.Time) *Service {
	s := newService(Options{Now: now, Log: slog.New(slog.DiscardHandler)})
	s.current.Store(book.New(0).With(facts))
	return s
}

// SolveBook answers all that the book holds, as the command solve prints it:
// the offset of every pair of every rig judged with what is dialled in, every
// latency, what became of measurements, and every plan.
func (s *Service) SolveBook(ctx context.Context) (*bookfile.Answer, error) {
	b := s.current.Load()
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	var questions []bookfile.Question
	plans := map[string]any{}
	for _, rig := range b.Rigs() {
		if rig.Deleted {
			continue
		}
		name := rigName(b, rig)
		for _, p := range rig.Current().Layout.JudgedPairs() {
			questions = append(questions, s.question(b, rig, name, p))
		}
		d, err := s.delaysOf(ctx, b, rig, "")
		if err != nil {
			return nil, err
		}
		text, err := planfile.Write(d.Plan)
		if err != nil {
			return nil, err
		}
		plans[name] = json.RawMessage(text)
	}
	out, err := bookfile.NewAnswer(solution, questions, solution.Latencies())
	if err != nil {
		return nil, err
	}
	out.Plans = plans
	return out, nil
}

func (s *Service) question(b *book.Book, rig *book.Rig, name string, p domain.JudgedPair) bookfile.Question {
	limit := limitOf(b, rig, p.Destination, "")
	q := bookfile.Question{
		Rig: name, Limit: limit.Slug, OffsetQuery: offsetQuery(rig, p.Picture, p.Sound, p.Destination),
	}
	q.OffsetQuery.Limit = &estimate.Limit{EarlyMS: limit.EarlyMS, LateMS: limit.LateMS}
	layout := &rig.Current().Layout
	for _, c := range layout.Controls() {
		if value, ok := valueAt(b, rig, layout, c.Use.Name, s.now()); ok {
			q.Settings = append(q.Settings, estimate.Setting{Control: string(c.Use.Name), Value: value.InexactFloat64()})
		}
	}
	return q
}
