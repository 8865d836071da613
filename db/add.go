package db

import (
	"context"
	"errors"
	"fmt"

	"delaybook/domain"
)

var versions = newTable("versions", "version", "at", "by_key")

// Add implements service.Tx.
func (t *tx) Add(ctx context.Context, facts *domain.Facts) error {
	if t.added {
		return errors.New("facts were added to the transaction already")
	}
	if err := checkVersions(facts, t.next()); err != nil {
		return err
	}
	t.added = true
	change := facts.Changes[0]
	t.queue(versions, []any{change.Version, change.At, toUUIDOrNull(change.By.UUID)})

	// In an order in which each row finds those that it refers to.
	for _, add := range []func(context.Context, *domain.Facts) error{
		t.addCrews, t.addKeys,
		t.addDevices, t.addStated, t.addCardSources, t.addLimits,
		t.addRigs, t.addLayouts,
		t.addPowerUps, t.addMeasurements, t.addSettings, t.addStrikes, t.addVariances,
	} {
		if err := add(ctx, facts); err != nil {
			return err
		}
	}
	return nil
}

// checkVersions refuses facts of another version than next, which would be
// read back with a version that the rest of the book does not have.
func checkVersions(facts *domain.Facts, next domain.Version) error {
	if len(facts.Changes) != 1 {
		return fmt.Errorf("a write makes one version, not %d", len(facts.Changes))
	}
	for v := range factVersions(facts) {
		if v != next {
			return fmt.Errorf("a fact of version %d in the write of version %d", v, next)
		}
	}
	return nil
}

// factVersions yields the version in which each fact of a write was made.
func factVersions(facts *domain.Facts) func(yield func(domain.Version) bool) {
	return func(yield func(domain.Version) bool) {
		_ = all(facts.Changes, func(c *domain.Change) bool { return yield(c.Version) }) &&
			all(facts.Crews, func(c *domain.Crew) bool { return yield(c.Version) }) &&
			all(facts.Keys, func(k *domain.Key) bool { return yield(max(k.Version, k.Revoked)) }) &&
			all(facts.Devices, func(d *domain.Device) bool { return yield(d.Version) }) &&
			all(facts.Stated, func(s *domain.Stated) bool { return yield(s.Version) }) &&
			all(facts.CardSources, func(c *domain.CardSource) bool { return yield(c.Version) }) &&
			all(facts.Limits, func(l *domain.Limit) bool { return yield(l.Version) }) &&
			all(facts.Rigs, func(r *domain.Rig) bool {
				return yield(r.Version) && all(r.Revisions, func(r *domain.Revision) bool { return yield(r.Version) })
			}) &&
			all(facts.PowerUps, func(p *domain.PowerUp) bool { return yield(p.Version) }) &&
			all(facts.Measurements, func(m *domain.Measurement) bool { return yield(m.Version) }) &&
			all(facts.Settings, func(s *domain.SettingsInForce) bool { return yield(s.Version) }) &&
			all(facts.Strikes, func(s *domain.StrikeFact) bool { return yield(s.Version) }) &&
			all(facts.Variances, func(v *domain.Variances) bool { return yield(v.Version) })
	}
}

func all[T any](list []T, holds func(*T) bool) bool {
	for i := range list {
		if !holds(&list[i]) {
			return false
		}
	}
	return true
}
