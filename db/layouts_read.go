package db

import (
	"fmt"
	"slices"
	"time"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

type revisionRow struct {
	Rig     pgtype.UUID    `db:"rig_id"`
	Number  int            `db:"number"`
	At      time.Time      `db:"at"`
	By      pgtype.UUID    `db:"by_key"`
	Version domain.Version `db:"version"`
	rateRow
}

// layouts reads the revisions made in the interval into their rigs. They never
// change, so that a later version reads the same.
func (l *loader) layouts() {
	const sql = `
		SELECT rig_id, number, at, by_key, version, rate_num, rate_den
		FROM   revisions
		WHERE  version > @after AND version <= @up_to
		ORDER  BY rig_id, number`

	rig := finder(&l.facts.Rigs, func(r *domain.Rig) domain.RigID { return r.ID })
	read(l, sql, func(r revisionRow) error {
		rate, err := r.rate()
		if err != nil {
			return fmt.Errorf("revision %d of rig %s: %w", r.Number, r.Rig, err)
		}
		of := rig(domain.RigID{UUID: r.Rig.Bytes})
		if of == nil {
			return fmt.Errorf("revision %d of rig %s has no edit of the rig beside it", r.Number, r.Rig)
		}
		of.Revisions = append(of.Revisions, domain.Revision{
			Number: r.Number, At: r.At.UTC(), By: domain.KeyID{UUID: r.By.Bytes}, Version: r.Version,
			Layout: domain.Layout{FrameRate: rate},
		})
		return nil
	})
	layout := func(id pgtype.UUID, revision int) *domain.Layout {
		list := rig(domain.RigID{UUID: id.Bytes}).Revisions
		i, _ := slices.BinarySearchFunc(list, revision, func(r domain.Revision, n int) int { return r.Number - n })
		return &list[i].Layout // it is there: the queries of parts join the same revisions
	}
	l.chains(layout)
	l.destinations(layout)
	l.seats(layout)
	l.stages(layout)
	l.stageControls(layout)
	l.feeds(layout)
	l.pairs(layout)
}

// A layoutFinder finds the layout of a revision that was read.
type layoutFinder func(rig pgtype.UUID, revision int) *domain.Layout

type chainRow struct {
	Rig      pgtype.UUID   `db:"rig_id"`
	Revision int           `db:"revision"`
	Slug     domain.Slug   `db:"slug"`
	Signal   domain.Signal `db:"signal"`
	Subject  string        `db:"subject"`
	AirM     float64       `db:"air_m"`
}

func (l *loader) chains(layout layoutFinder) {
	const sql = `
		SELECT c.rig_id, c.revision, c.slug, c.signal, c.subject, c.air_m
		FROM   revisions r
		JOIN   chains c ON c.rig_id = r.rig_id AND c.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    c.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY c.rig_id, c.revision, c.position`

	read(l, sql, func(r chainRow) error {
		of := layout(r.Rig, r.Revision)
		of.Chains = append(of.Chains, domain.Chain{Slug: r.Slug, Signal: r.Signal, Subject: r.Subject, AirM: r.AirM})
		return nil
	})
}

type destinationRow struct {
	Rig      pgtype.UUID `db:"rig_id"`
	Revision int         `db:"revision"`
	Slug     domain.Slug `db:"slug"`
	Limit    domain.Slug `db:"limit_slug"`
	AirM     float64     `db:"air_m"`
}

func (l *loader) destinations(layout layoutFinder) {
	const sql = `
		SELECT d.rig_id, d.revision, d.slug, d.limit_slug, d.air_m
		FROM   revisions r
		JOIN   destinations d ON d.rig_id = r.rig_id AND d.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    d.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY d.rig_id, d.revision, d.position`

	read(l, sql, func(r destinationRow) error {
		of := layout(r.Rig, r.Revision)
		of.Destinations = append(of.Destinations, domain.Destination{Slug: r.Slug, Limit: r.Limit, AirM: r.AirM})
		return nil
	})
}

type feedRow struct {
	Rig        pgtype.UUID `db:"rig_id"`
	Revision   int         `db:"revision"`
	Slug       domain.Slug `db:"slug"`
	Chain      domain.Slug `db:"chain"`
	MaxAddedMS float64     `db:"max_added_ms"`
}

func (l *loader) feeds(layout layoutFinder) {
	const sql = `
		SELECT f.rig_id, f.revision, f.slug, f.chain, f.max_added_ms
		FROM   revisions r
		JOIN   feeds f ON f.rig_id = r.rig_id AND f.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    f.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY f.rig_id, f.revision, f.position, f.slug`

	read(l, sql, func(r feedRow) error {
		of := layout(r.Rig, r.Revision)
		of.Feeds = append(of.Feeds, domain.Feed{Slug: r.Slug, Chain: r.Chain, MaxAddedMS: r.MaxAddedMS})
		return nil
	})
}

type pairRow struct {
	Rig         pgtype.UUID       `db:"rig_id"`
	Revision    int               `db:"revision"`
	Picture     domain.Slug       `db:"picture"`
	Sound       domain.Slug       `db:"sound"`
	Destination domain.Slug       `db:"destination"`
	Importance  domain.Importance `db:"importance"`
}

func (l *loader) pairs(layout layoutFinder) {
	const sql = `
		SELECT p.rig_id, p.revision, p.picture, p.sound, coalesce(p.destination, '') AS destination, p.importance
		FROM   revisions r
		JOIN   pairs p ON p.rig_id = r.rig_id AND p.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    p.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY p.rig_id, p.revision, p.position`

	read(l, sql, func(r pairRow) error {
		of := layout(r.Rig, r.Revision)
		of.Pairs = append(of.Pairs, domain.Pair{
			Picture: r.Picture, Sound: r.Sound, Destination: r.Destination, Importance: r.Importance,
		})
		return nil
	})
}

type seatRow struct {
	Rig         pgtype.UUID `db:"rig_id"`
	Revision    int         `db:"revision"`
	Destination domain.Slug `db:"destination"`
	Slug        domain.Slug `db:"slug"`
	AirM        float64     `db:"air_m"`
}

func (l *loader) seats(layout layoutFinder) {
	const sql = `
		SELECT s.rig_id, s.revision, s.destination, s.slug, s.air_m
		FROM   revisions r
		JOIN   seats s ON s.rig_id = r.rig_id AND s.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    s.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY s.rig_id, s.revision, s.destination, s.position`

	read(l, sql, func(r seatRow) error {
		d, _ := layout(r.Rig, r.Revision).Destination(r.Destination)
		d.Seats = append(d.Seats, domain.Seat{Slug: r.Slug, AirM: r.AirM})
		return nil
	})
}
