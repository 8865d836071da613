package db_test

import (
	"slices"
	"testing"

	"delaybook/domain"
)

// stamp gives facts the version v and its change.
func stamp(v domain.Version, facts domain.Facts) *domain.Facts {
	facts.Changes = []domain.Change{{Version: v, At: at(int(v)), By: adminKey}}
	set := func(at *domain.Version) {
		if *at == 0 {
			*at = v
		}
	}
	for i := range facts.Crews {
		set(&facts.Crews[i].Version)
	}
	for i := range facts.Keys {
		set(&facts.Keys[i].Version)
	}
	for i := range facts.Devices {
		set(&facts.Devices[i].Version)
	}
	for i := range facts.Stated {
		set(&facts.Stated[i].Version)
	}
	for i := range facts.CardSources {
		set(&facts.CardSources[i].Version)
	}
	for i := range facts.Limits {
		set(&facts.Limits[i].Version)
	}
	for i := range facts.Rigs {
		set(&facts.Rigs[i].Version)
		for j := range facts.Rigs[i].Revisions {
			set(&facts.Rigs[i].Revisions[j].Version)
		}
	}
	for i := range facts.PowerUps {
		set(&facts.PowerUps[i].Version)
	}
	for i := range facts.Measurements {
		set(&facts.Measurements[i].Version)
	}
	for i := range facts.Settings {
		set(&facts.Settings[i].Version)
	}
	for i := range facts.Strikes {
		set(&facts.Strikes[i].Version)
	}
	return &facts
}

// stampAll gives each of steps its version, from 1.
func stampAll(steps ...domain.Facts) []*domain.Facts {
	stamped := make([]*domain.Facts, len(steps))
	for i, facts := range steps {
		stamped[i] = stamp(domain.Version(i+1), facts)
	}
	return stamped
}

// story returns the facts of a few days, one element a version, in which every
// kind of fact occurs, and every way in which one is changed by a later one.
func story(tb testing.TB) []*domain.Facts {
	edited := cameraAsBought(tb)
	edited.Slug, edited.Name = "roving-camera", "Roving camera"
	edited.Modes[0].Retired = true
	edited.Modes = append(edited.Modes, domain.Mode{ID: domain.ModeID{UUID: id(19)}, Slug: "tele", Direct: nil, Varies: true})
	edited.Units = append(edited.Units, domain.Unit{ID: domain.UnitID{UUID: id(22)}, Tag: "C-08"})

	swappedCamera, swappedDesk := edited, audioDesk(tb)
	swappedCamera.Slug, swappedDesk.Slug = swappedDesk.Slug, edited.Slug
	swappedDesk.Controls[1].Retired = true

	retired := swappedCamera
	retired.Retired = true
	retired.Units = slices.Clone(retired.Units)
	retired.Units[0].Retired = true

	renamed := hallRig(tb, 2, layout(tb))
	renamed.Name, renamed.JobDate, renamed.VisibleTo, renamed.Visibility = "Great hall", "", nil, domain.VisibleToCompany
	renamed.Revisions[0].Layout.Chains = renamed.Revisions[0].Layout.Chains[:2]
	renamed.Revisions[0].Layout.Pairs = nil

	deleted := renamed
	deleted.Revisions, deleted.Deleted = nil, true

	revoked := people().Keys[1]
	revoked.Version, revoked.Revoked = 1, 9

	strike := domain.Strike{Reason: "wrong chain", At: at(7), By: techKey}
	return stampAll(
		people(),
		catalogue(tb),
		rigs(tb),
		domain.Facts{Measurements: []domain.Measurement{take(tb, 0)}, Settings: []domain.SettingsInForce{settings(0)}},
		domain.Facts{Devices: []domain.Device{edited}},
		domain.Facts{Rigs: []domain.Rig{renamed}},
		domain.Facts{Strikes: []domain.StrikeFact{{Stated: latencyOf, Strike: strike}, {Measurement: firstTake, Strike: strike}}},
		manyTakes(tb, 1, 30),
		domain.Facts{
			Keys:    []domain.Key{revoked},
			Strikes: []domain.StrikeFact{{Measurement: firstTake, Restores: true, Strike: domain.Strike{At: at(9), By: adminKey}}},
			CardSources: []domain.CardSource{
				{ID: domain.CardSourceID{UUID: id(47)}, Slug: "tablet", Name: "Tablet", StatedMS: -11, UMS: 1, Source: "bench again"},
			},
		},
		domain.Facts{Devices: []domain.Device{swappedCamera, swappedDesk}},
		domain.Facts{
			Devices: []domain.Device{retired, {ID: domain.DeviceID{UUID: id(23)}, Slug: "desk", Name: "New desk", Kind: "audio desk"}},
			Rigs:    []domain.Rig{deleted},
			Settings: []domain.SettingsInForce{{
				ID: domain.SettingsID{UUID: id(6000)}, Rig: hall, Revision: 2, At: at(11), Plan: 10,
			}},
		},
		domain.Facts{Rigs: []domain.Rig{bigRig(tb)}},
	)
}

// bigRig takes the slug of the hall and has so many stages that they go by COPY.
func bigRig(tb testing.TB) domain.Rig {
	of := layout(tb)
	for i := range of.Chains {
		of.Chains[i].Stages = slices.Repeat(of.Chains[i].Stages, 8)
	}
	big := hallRig(tb, 1, of)
	big.ID = domain.RigID{UUID: id(24)}
	return big
}
