package db

import (
	"context"
	"fmt"
	"time"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

var (
	rigs     = newKeptTable("rigs", "id", "crew_id", "version")
	rigEdits = newTable("rig_edits",
		"rig_id", "version", "slug", "name", "visibility", "visible_to", "job_date", "notes", "deleted")
	rigSlugs = newTable("rig_slugs", "crew_id", "slug", "rig_id")
)

// addRigs writes an edit of every rig, also when it only has a new revision: so
// the edits alone tell in which versions a rig changed.
func (t *tx) addRigs(ctx context.Context, facts *domain.Facts) error {
	const freeSlugs = `DELETE FROM rig_slugs WHERE rig_id = ANY($1)`

	if len(facts.Rigs) == 0 {
		return nil
	}
	var known, edits, slugs [][]any
	var ids []pgtype.UUID
	for i := range facts.Rigs {
		r := &facts.Rigs[i]
		id := toUUID(r.ID.UUID)
		edit, err := rigEditValues(r)
		if err != nil {
			return fmt.Errorf("rig %s: %w", r.ID, err)
		}
		ids = append(ids, id)
		known = append(known, []any{id, toUUID(r.Crew.UUID), r.Version})
		edits = append(edits, edit)
		if !r.Deleted {
			slugs = append(slugs, []any{toUUID(r.Crew.UUID), r.Slug, id})
		}
	}
	if err := t.put(ctx, rigs, known); err != nil {
		return err
	}
	if err := t.put(ctx, rigEdits, edits); err != nil {
		return err
	}
	t.batch.Queue(freeSlugs, ids) // all before the first is taken: two rigs may swap theirs
	return t.put(ctx, rigSlugs, slugs)
}

func rigEditValues(r *domain.Rig) ([]any, error) {
	var jobDate pgtype.Date
	if r.JobDate != "" {
		day, err := time.Parse(time.DateOnly, r.JobDate)
		if err != nil {
			return nil, err
		}
		jobDate = pgtype.Date{Time: day, Valid: true}
	}
	visibleTo := make([]pgtype.UUID, len(r.VisibleTo))
	for i, c := range r.VisibleTo {
		visibleTo[i] = toUUID(c.UUID)
	}
	return []any{
		toUUID(r.ID.UUID), r.Version, r.Slug, r.Name, r.Visibility, visibleTo, jobDate, r.Notes, r.Deleted,
	}, nil
}

type rigRow struct {
	ID         pgtype.UUID       `db:"id"`
	Crew       pgtype.UUID       `db:"crew_id"`
	Version    domain.Version    `db:"version"`
	Slug       domain.Slug       `db:"slug"`
	Name       string            `db:"name"`
	Visibility domain.Visibility `db:"visibility"`
	VisibleTo  []pgtype.UUID     `db:"visible_to"`
	JobDate    pgtype.Date       `db:"job_date"`
	Notes      string            `db:"notes"`
	Deleted    bool              `db:"deleted"`
}

func (r rigRow) toDomain() domain.Rig {
	rig := domain.Rig{
		ID: domain.RigID{UUID: r.ID.Bytes}, Crew: domain.CrewID{UUID: r.Crew.Bytes}, Slug: r.Slug, Name: r.Name,
		Visibility: r.Visibility, Notes: r.Notes, Deleted: r.Deleted, Version: r.Version,
	}
	for _, c := range r.VisibleTo {
		rig.VisibleTo = append(rig.VisibleTo, domain.CrewID{UUID: c.Bytes})
	}
	if r.JobDate.Valid {
		rig.JobDate = r.JobDate.Time.Format(time.DateOnly)
	}
	return rig
}

// rigs reads the rigs with an edit in the interval, each as its last one there
// left it; their revisions follow in layouts.
func (l *loader) rigs() {
	const sql = `
		SELECT r.id, r.crew_id, last.version, last.slug, last.name, last.visibility, last.visible_to, last.job_date,
		       last.notes, last.deleted
		FROM  (SELECT DISTINCT ON (rig_id) rig_id, version, slug, name, visibility, visible_to, job_date, notes, deleted
		       FROM   rig_edits
		       WHERE  version > @after AND version <= @up_to
		       ORDER  BY rig_id, version DESC) AS last
		JOIN   rigs r ON r.id = last.rig_id
		ORDER  BY last.version, r.id`

	read(l, sql, func(r rigRow) error {
		l.facts.Rigs = append(l.facts.Rigs, r.toDomain())
		return nil
	})
}
