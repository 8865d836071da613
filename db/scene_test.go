package db_test

import (
	"testing"

	"delaybook/domain"
	"delaybook/domain/timebase"

	"github.com/shopspring/decimal"
)

// Identifiers of the scene.
var (
	vanCrew     = domain.CrewID{UUID: id(1)}
	boatCrew    = domain.CrewID{UUID: id(2)}
	adminKey    = domain.KeyID{UUID: id(3)}
	techKey     = domain.KeyID{UUID: id(4)}
	camera      = domain.DeviceID{UUID: id(10)}
	desk        = domain.DeviceID{UUID: id(11)}
	cameraWide  = domain.ModeID{UUID: id(12)}
	cameraNight = domain.ModeID{UUID: id(13)}
	deskMode    = domain.ModeID{UUID: id(14)}
	deskDelay   = domain.ControlID{UUID: id(15)}
	cameraUnit  = domain.UnitID{UUID: id(16)}
	hall        = domain.RigID{UUID: id(20)}
	quay        = domain.RigID{UUID: id(21)}
	doors       = domain.PowerUpID{UUID: id(30)}
	latencyOf   = domain.StatedID{UUID: id(40)}
	firstTake   = domain.MeasurementID{UUID: id(1000000)}
)

func people() domain.Facts {
	return domain.Facts{
		Crews: []domain.Crew{
			{ID: vanCrew, Slug: "red-van", Name: "Red van"},
			{ID: boatCrew, Slug: "boat", Name: "Boat \u2693"},
		},
		Keys: []domain.Key{
			{ID: adminKey, Purpose: domain.ForRequests, Prefix: "k1", Hash: [32]byte{1, 31: 2}, Role: domain.Admin, Label: "office", CreatedAt: at(1)},
			{
				ID: techKey, Purpose: domain.ForSession, Prefix: "k2", Hash: [32]byte{3}, Role: domain.Tech, Crew: vanCrew, Label: "van",
				CreatedAt: at(1), ExpiresAt: at(50), From: adminKey, Once: true,
			},
		},
	}
}

func cameraAsBought(tb testing.TB) domain.Device {
	return domain.Device{
		ID: camera, Slug: "field-camera", Name: "Field camera", Kind: "camera", Notes: "on tripods",
		Modes: []domain.Mode{
			{
				ID: cameraWide, Slug: "wide", Format: "1080i59.94", Scan: timebase.Interlaced, FrameRate: rate(tb, "30000/1001"),
				Firmware: "2.1", Processing: "stabiliser off", Port: "out 1", Shutter: "1/60", Direct: []domain.Signal{domain.Sound},
			},
			{ID: cameraNight, Slug: "night", Scan: timebase.Progressive, FrameRate: rate(tb, "25"), Varies: true},
		},
		Units: []domain.Unit{{ID: cameraUnit, Tag: "C-07", Notes: "scratched"}},
	}
}

func audioDesk(tb testing.TB) domain.Device {
	sampleRate, err := timebase.NewSampleRate(96000)
	if err != nil {
		tb.Fatal(err)
	}
	number := decimal.RequireFromString
	return domain.Device{
		ID: desk, Slug: "desk", Name: "Desk", Kind: "audio desk",
		Modes: []domain.Mode{{ID: deskMode, Slug: "house", Direct: []domain.Signal{domain.Picture, domain.Sound}}},
		Controls: []domain.Control{
			{
				ID: deskDelay, Slug: "delay", Signal: domain.Sound, Unit: domain.UnitMS, Step: number("0.01"), Min: number("-1.5"),
				Max: number("1000"), Where: "input page", ActsOn: "channel", EngagedMS: 0.25, Ours: true,
			},
			{
				ID: domain.ControlID{UUID: id(17)}, Slug: "bus", Signal: domain.Sound, Unit: domain.UnitSample, SampleRate: sampleRate,
				Step: number("1"), Max: number("123456789012345678901234567890"),
			},
			{
				ID: domain.ControlID{UUID: id(18)}, Slug: "frames", Signal: domain.Picture, Unit: domain.UnitFrame,
				Rate: rate(tb, "60000/1001"), Step: number("0.5"), Max: number("8"),
			},
		},
	}
}

func catalogue(tb testing.TB) domain.Facts {
	return domain.Facts{
		Devices: []domain.Device{cameraAsBought(tb), audioDesk(tb)},
		Stated: []domain.Stated{
			{
				ID: latencyOf, Device: camera, Mode: cameraWide, Signal: domain.Picture, ValueMS: 66.7, UMS: 2.5,
				Source: "handbook p. 12", By: techKey,
			},
			{
				ID: domain.StatedID{UUID: id(41)}, Device: desk, Mode: deskMode, Signal: domain.Picture, Minus: domain.Sound,
				ValueMS: -3, HalfWidthMS: 1,
			},
		},
		CardSources: []domain.CardSource{
			{ID: domain.CardSourceID{UUID: id(45)}, Slug: "tablet", Name: "Tablet", StatedMS: -12.5, UMS: 4, Source: "bench"},
		},
		Limits: []domain.Limit{{ID: domain.LimitID{UUID: id(46)}, Slug: "stage", Name: "Stage", EarlyMS: 0, LateMS: 60, Source: "house rule"}},
	}
}

func layout(tb testing.TB) domain.Layout {
	stage := domain.Stage{
		Device: camera, Mode: cameraWide, Unit: cameraUnit, Timing: domain.Free,
	}
	mix := domain.Stage{
		Device: desk, Mode: deskMode, Timing: domain.UnknownTiming,
		Controls: []domain.ControlUse{
			{Control: deskDelay, Name: "main-delay", Ours: ptr(false)},
			{Control: domain.ControlID{UUID: id(17)}, Name: "bus-delay"},
		},
	}
	return domain.Layout{
		FrameRate: rate(tb, "30000/1001"),
		Chains: []domain.Chain{
			{Slug: "cam", Signal: domain.Picture, Subject: "stage", Stages: []domain.Stage{stage, mix, stage}},
			{Slug: "mic", Signal: domain.Sound, Subject: "guest", AirM: 3.5, Stages: []domain.Stage{mix}},
			{Slug: "amb", Signal: domain.Sound, Subject: "stage", Stages: []domain.Stage{mix, mix}},
		},
		Destinations: []domain.Destination{
			{Slug: "programme", Limit: "stage", Picture: []domain.Stage{stage, mix}, Sound: []domain.Stage{mix}},
			{Slug: "hall", Limit: "stage", AirM: 20, Seats: []domain.Seat{{Slug: "near", AirM: 6}, {Slug: "far", AirM: 32}}},
		},
		Feeds: []domain.Feed{{Slug: "pa", Chain: "mic", MaxAddedMS: 5}, {Slug: "ears", Chain: "mic"}},
		Pairs: []domain.Pair{
			{Picture: "cam", Sound: "mic", Importance: domain.Hard},
			{Picture: domain.LiveChain, Sound: "amb", Destination: "hall", Importance: domain.Soft},
		},
	}
}

func hallRig(tb testing.TB, number int, of domain.Layout) domain.Rig {
	return domain.Rig{
		ID: hall, Crew: vanCrew, Slug: "hall", Name: "Hall", Visibility: domain.VisibleToListed,
		VisibleTo: []domain.CrewID{boatCrew, vanCrew}, JobDate: "2026-03-14", Notes: "bring ladders",
		Revisions: []domain.Revision{{Number: number, At: at(number), By: techKey, Layout: of}},
	}
}

func rigs(tb testing.TB) domain.Facts {
	small := domain.Layout{
		FrameRate:    rate(tb, "50"),
		Destinations: []domain.Destination{{Slug: "stream", Limit: "stage"}},
	}
	return domain.Facts{
		Rigs: []domain.Rig{hallRig(tb, 1, layout(tb)), {
			ID: quay, Crew: boatCrew, Slug: "quay", Name: "Quay", Visibility: domain.VisibleToCrew,
			Revisions: []domain.Revision{{Number: 1, At: at(3), Layout: small}},
		}},
		PowerUps: []domain.PowerUp{
			{ID: doors, Rig: hall, Label: "doors"},
			{ID: domain.PowerUpID{UUID: id(31)}, Rig: hall},
			{ID: domain.PowerUpID{UUID: id(32)}, Rig: hall},
			{ID: domain.PowerUpID{UUID: id(33)}, Rig: quay, Label: "doors"},
		},
	}
}

// take returns the n-th measurement of the hall, with readings of every form.
func take(tb testing.TB, n int) domain.Measurement {
	number := decimal.RequireFromString
	return domain.Measurement{
		ID: domain.MeasurementID{UUID: id(1000000 + n)}, ClientID: id(2000000 + n), Fingerprint: [32]byte{byte(n), 31: 1},
		Rig: hall, Revision: 1, First: "cam", FirstSig: domain.Picture, Second: "mic", SecondSig: domain.Sound,
		ReadAt: "programme", Method: domain.ByEye, Eye: domain.OneSide, FrameRate: rate(tb, "30000/1001"), CardSource: "tablet",
		Readings: []domain.Reading{
			{Frames: ptr(number("2.5")), Heard: domain.Early, OffsetMS: 2.5 * 1001 / 30},
			{Frames: ptr(number("0")), Heard: domain.InSync, AtS: ptr(0.0)},
			{OffsetMS: -0.1 - float64(n), UMS: ptr(1.25), AtS: ptr(12.5)},
		},
		Settings: []domain.Setting{{Control: "main-delay", Value: number("-1.50")}, {Control: "bus-delay", Value: number("1e3")}},
		PowerUp:  doors, DistanceM: ptr(1.5), TakenAt: at(n % 60).In(zone(n)), Note: "third beep late", By: techKey,
		EventSDMS: ptr(4.5), DriftPPM: ptr(-2.5), Clip: domain.ClipID{UUID: id(7000 + n)},
	}
}

func settings(n int) domain.SettingsInForce {
	return domain.SettingsInForce{
		ID: domain.SettingsID{UUID: id(5000 + n)}, Rig: hall, Revision: 1, At: at(n % 60).In(zone(n)), By: techKey,
		Values: []domain.Setting{{Control: "main-delay", Value: decimal.New(int64(n), -2)}},
	}
}

// manyTakes returns n measurements and settings in force: above 20 they go by COPY.
func manyTakes(tb testing.TB, first, n int) domain.Facts {
	var facts domain.Facts
	for i := range n {
		facts.Measurements = append(facts.Measurements, take(tb, first+i))
		facts.Settings = append(facts.Settings, settings(first+i))
		facts.PowerUps = append(facts.PowerUps, domain.PowerUp{ID: domain.PowerUpID{UUID: id(9000 + first + i)}, Rig: quay})
	}
	return facts
}
