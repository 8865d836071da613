DROP TABLE pairs, feeds, stage_controls, stages, seats, destinations, chains, revisions, rig_slugs, rig_edits, rigs;
