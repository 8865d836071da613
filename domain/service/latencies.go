package service

import (
	"context"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
)

// A Latency is what is known of how long a device in a mode delays a signal.
type Latency struct {
	Device *domain.Device
	Mode   *domain.Mode
	Signal domain.Signal
	estimate.Latency
	Measurements int // that contain it, on rigs that the caller may see
	Rigs         int // of those
}

// Latencies returns the latency of every device, mode and signal that rigs or
// stated values mention, in order of device, mode and signal.
func (s *Service) Latencies(ctx context.Context, r Request) ([]Latency, error) {
	return s.latencies(ctx, r, "")
}

// LatenciesOf returns those of one device.
func (s *Service) LatenciesOf(ctx context.Context, r Request, name string) ([]Latency, error) {
	return s.latencies(ctx, r, name)
}

func (s *Service) latencies(ctx context.Context, r Request, only string) ([]Latency, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, err
	}
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	if only != "" {
		d, err := device(b, only)
		if err != nil {
			return nil, err
		}
		only = deviceNames(b)[d.ID]
	}
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	byName := map[string]*domain.Device{}
	for id, name := range deviceNames(b) {
		byName[name], _ = b.Device(id)
	}
	var all []Latency
	for _, q := range solution.Latencies() {
		if only != "" && q.Device != only {
			continue
		}
		l, err := solution.Latency(q)
		if err != nil {
			return nil, err
		}
		d := byName[q.Device]
		m, _ := d.Mode(domain.Slug(q.Mode))
		shown := Latency{Device: d, Mode: m, Signal: domain.Signal(q.Signal), Latency: l}
		shown.Measurements, shown.Rigs = seen(b, r.Caller, l.Measurements)
		all = append(all, shown)
	}
	return all, nil
}

// seen counts the measurements that the caller may see, and their rigs.
func seen(b *book.Book, c Caller, ids []string) (measurements, rigs int) {
	of := map[*book.Rig]bool{}
	for _, id := range ids {
		if _, rig, _ := b.Measurement(domain.MeasurementID{UUID: mustID(id)}); c.sees(rig) {
			measurements++
			of[rig] = true
		}
	}
	return measurements, len(of)
}
