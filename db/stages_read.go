package db

import (
	"fmt"

	"delaybook/domain"

	"github.com/jackc/pgx/v5/pgtype"
)

// A stagesRow says which list of stages a row belongs to; empty stands for null.
type stagesRow struct {
	Rig         pgtype.UUID   `db:"rig_id"`
	Revision    int           `db:"revision"`
	Chain       domain.Slug   `db:"chain"`
	Destination domain.Slug   `db:"destination"`
	Tail        domain.Signal `db:"tail"`
}

func (r stagesRow) list(layout layoutFinder) (*[]domain.Stage, error) {
	of := layout(r.Rig, r.Revision)
	if c, ok := of.Chain(r.Chain); ok {
		return &c.Stages, nil
	}
	d, ok := of.Destination(r.Destination)
	switch {
	case !ok:
		return nil, fmt.Errorf("revision %d of rig %s has stages of no chain or destination", r.Revision, r.Rig)
	case r.Tail == domain.Picture:
		return &d.Picture, nil
	}
	return &d.Sound, nil
}

type stageRow struct {
	stagesRow
	Device pgtype.UUID   `db:"device_id"`
	Mode   pgtype.UUID   `db:"mode_id"`
	Unit   pgtype.UUID   `db:"unit_id"`
	Timing domain.Timing `db:"timing"`
}

func (l *loader) stages(layout layoutFinder) {
	const sql = `
		SELECT s.rig_id, s.revision, coalesce(s.chain, '') AS chain, coalesce(s.destination, '') AS destination,
		       coalesce(s.tail, '') AS tail, s.device_id, s.mode_id, s.unit_id, s.timing
		FROM   revisions r
		JOIN   stages s ON s.rig_id = r.rig_id AND s.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    s.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY s.rig_id, s.revision, s.chain, s.destination, s.tail, s.position`

	read(l, sql, func(r stageRow) error {
		list, err := r.list(layout)
		if err != nil {
			return err
		}
		*list = append(*list, domain.Stage{
			Device: domain.DeviceID{UUID: r.Device.Bytes}, Mode: domain.ModeID{UUID: r.Mode.Bytes},
			Unit: domain.UnitID{UUID: r.Unit.Bytes}, Timing: r.Timing,
		})
		return nil
	})
}

type stageControlRow struct {
	stagesRow
	Stage   int         `db:"stage_position"`
	Control pgtype.UUID `db:"control_id"`
	Name    domain.Slug `db:"name"`
	Ours    *bool       `db:"ours"`
}

func (l *loader) stageControls(layout layoutFinder) {
	const sql = `
		SELECT c.rig_id, c.revision, coalesce(c.chain, '') AS chain, coalesce(c.destination, '') AS destination,
		       coalesce(c.tail, '') AS tail, c.stage_position, c.control_id, c.name, c.ours
		FROM   revisions r
		JOIN   stage_controls c ON c.rig_id = r.rig_id AND c.revision = r.number
		WHERE  r.version > @after AND r.version <= @up_to
		AND    c.rig_id = ANY (ARRAY(SELECT rig_id FROM revisions WHERE version > @after AND version <= @up_to))
		ORDER  BY c.rig_id, c.revision, c.chain, c.destination, c.tail, c.stage_position, c.position`

	read(l, sql, func(r stageControlRow) error {
		list, err := r.list(layout)
		if err != nil {
			return err
		}
		if r.Stage < 0 || r.Stage >= len(*list) {
			return fmt.Errorf("revision %d of rig %s has a control at stage %d of %d", r.Revision, r.Rig, r.Stage, len(*list))
		}
		s := &(*list)[r.Stage]
		s.Controls = append(s.Controls, domain.ControlUse{
			Control: domain.ControlID{UUID: r.Control.Bytes}, Name: r.Name, Ours: r.Ours,
		})
		return nil
	})
}
