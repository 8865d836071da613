package db

import (
	"context"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

var (
	revisions     = newTable("revisions", "rig_id", "number", "at", "by_key", "version", "rate_num", "rate_den")
	chains        = newTable("chains", "rig_id", "revision", "position", "slug", "signal", "subject", "air_m")
	destinations  = newTable("destinations", "rig_id", "revision", "position", "slug", "limit_slug", "air_m")
	seats         = newTable("seats", "rig_id", "revision", "destination", "position", "slug", "air_m")
	stages        = newTable("stages", "rig_id", "revision", "chain", "destination", "tail", "position", "device_id", "mode_id", "unit_id", "timing")
	stageControls = newTable("stage_controls", "rig_id", "revision", "chain", "destination", "tail", "stage_position", "position", "control_id", "name", "ours")
	feeds         = newTable("feeds", "rig_id", "revision", "position", "slug", "chain", "max_added_ms")
	pairs         = newTable("pairs", "rig_id", "revision", "position", "picture", "sound", "destination", "importance")
)

// layoutRows are the rows of revisions, by table.
type layoutRows struct {
	revisions, chains, destinations, seats, stages, stageControls, feeds, pairs [][]any
}

// addLayouts writes the revisions of the rigs, which are those added.
func (t *tx) addLayouts(ctx context.Context, facts *domain.Facts) error {
	var rows layoutRows
	for i := range facts.Rigs {
		r := &facts.Rigs[i]
		for j := range r.Revisions {
			rows.add(r.ID, &r.Revisions[j])
		}
	}
	for _, list := range []struct {
		to   *table
		rows [][]any
	}{
		{revisions, rows.revisions},
		{chains, rows.chains},
		{destinations, rows.destinations},
		{seats, rows.seats},
		{stages, rows.stages},
		{stageControls, rows.stageControls},
		{feeds, rows.feeds},
		{pairs, rows.pairs},
	} {
		if err := t.put(ctx, list.to, list.rows); err != nil {
			return err
		}
	}
	return nil
}

func (l *layoutRows) add(rigID domain.RigID, r *domain.Revision) {
	rig, n := toUUID(rigID.UUID), r.Number
	num, den := toRate(r.Layout.FrameRate)
	l.revisions = append(l.revisions, []any{rig, n, r.At, toUUIDOrNull(r.By.UUID), r.Version, num, den})
	for i, c := range r.Layout.Chains {
		l.chains = append(l.chains, []any{rig, n, i, c.Slug, c.Signal, c.Subject, c.AirM})
		l.addStages(stagesOwner{rig: rig, revision: n, chain: c.Slug}, c.Stages)
	}
	for i, d := range r.Layout.Destinations {
		l.destinations = append(l.destinations, []any{rig, n, i, d.Slug, d.Limit, d.AirM})
		for k, seat := range d.Seats {
			l.seats = append(l.seats, []any{rig, n, d.Slug, k, seat.Slug, seat.AirM})
		}
		l.addStages(stagesOwner{rig: rig, revision: n, destination: d.Slug, tail: domain.Picture}, d.Picture)
		l.addStages(stagesOwner{rig: rig, revision: n, destination: d.Slug, tail: domain.Sound}, d.Sound)
	}
	for i, f := range r.Layout.Feeds {
		l.feeds = append(l.feeds, []any{rig, n, i, f.Slug, f.Chain, f.MaxAddedMS})
	}
	for i, p := range r.Layout.Pairs {
		l.pairs = append(l.pairs, []any{rig, n, i, p.Picture, p.Sound, toTextOrNull(p.Destination), p.Importance})
	}
}

// A stagesOwner is what a list of stages belongs to: a chain, or the tail of a
// destination for one signal.
type stagesOwner struct {
	rig         pgtype.UUID
	revision    int
	chain       domain.Slug
	destination domain.Slug
	tail        domain.Signal
}

func (l *layoutRows) addStages(of stagesOwner, list []domain.Stage) {
	chain, destination, tail := toTextOrNull(of.chain), toTextOrNull(of.destination), toTextOrNull(of.tail)
	for i, s := range list {
		l.stages = append(l.stages, []any{
			of.rig, of.revision, chain, destination, tail, i,
			toUUID(s.Device.UUID), toUUID(s.Mode.UUID), toUUIDOrNull(s.Unit.UUID), s.Timing,
		})
		for j, u := range s.Controls {
			l.stageControls = append(l.stageControls, []any{
				of.rig, of.revision, chain, destination, tail, i, j, toUUID(u.Control.UUID), u.Name, u.Ours,
			})
		}
	}
}
