package demo

import "delaybook/domain/service"

// camera is a stage list from a camera to the switcher.
func camera(device, unit, timing, mode string, between ...string) []service.NewStage {
	stages := []service.NewStage{{Device: device, Unit: unit, Mode: mode, Timing: timing}}
	for _, d := range between {
		stages = append(stages, service.NewStage{Device: d, Mode: mode, Timing: "house"})
	}
	return append(stages, service.NewStage{Device: "mixer-s", Mode: mode, Timing: "house"})
}

// intoSwitcher is a stage list from a microphone to an input of the switcher
// that can delay it.
func intoSwitcher(microphone, control, name, mode string) []service.NewStage {
	return []service.NewStage{
		{Device: microphone, Mode: sound},
		{Device: "mixer-s", Mode: mode, Controls: []service.NewControlUse{{Control: control, Name: name}}},
	}
}

// overDesk is a stage list from a microphone over the desk's delayed output.
func overDesk(microphone, name, mode string) []service.NewStage {
	return []service.NewStage{
		{Device: microphone, Mode: sound},
		{Device: "desk-d", Mode: sound, Controls: []service.NewControlUse{{Control: "output-delay", Name: name}}},
		{Device: "mixer-s", Mode: mode},
	}
}

// rigs returns the rigs of the demo.
func rigs() []service.NewRig {
	return []service.NewRig{harbourHall(), quayStudio(), vanKit(), granary()}
}

func harbourHall() service.NewRig {
	return service.NewRig{
		Slug: "harbour-hall", Name: "Harbour Hall", Crew: "red-van", FrameRate: "29.97",
		Chains: []service.NewChain{
			{Slug: "cam-1", Signal: "picture", Stages: camera("cam-a", "C-014", "free", hd2997)},
			{Slug: "cam-2", Signal: "picture", Stages: camera("cam-a", "C-015", "free", hd2997)},
			{Slug: "cam-3", Signal: "picture", Stages: camera("cam-b", "B-001", "house", hd2997, "store-f")},
			{Slug: "lectern", Signal: "sound", AirM: ptr(0.3), Stages: intoSwitcher("mic-p", "mic-1-delay", "lectern-delay", hd2997)},
			{Slug: "hand", Signal: "sound", AirM: ptr(0.1), Stages: intoSwitcher("radio-mic-w", "mic-2-delay", "hand-delay", hd2997)},
			{Slug: "house-pa", Signal: "sound", AirM: ptr(0.3), Stages: []service.NewStage{
				{Device: "mic-p", Mode: sound},
				{Device: "desk-d", Mode: sound, Controls: []service.NewControlUse{{Control: "output-delay", Name: "pa-delay"}}},
			}},
		},
		Destinations: []service.NewDestination{
			{Slug: "programme", Limit: "ebu-r37"},
			{
				Slug: "hall", Limit: "itu-bt1359-detectable", AirM: ptr(18.0),
				Picture: []service.NewStage{{Device: "screen-h", Mode: hd2997, Timing: "house"}},
				Sound:   []service.NewStage{{Device: "pa-h", Mode: sound}},
				Seats:   []service.NewSeat{{Slug: "near", AirM: ptr(6.0)}, {Slug: "far", AirM: ptr(32.0)}},
			},
		},
		Feeds: []service.NewFeed{{Slug: "pa", Chain: "house-pa", MaxAddedMS: ptr(5.0)}},
		Pairs: hallPairs(),
	}
}

// hallPairs says what is seen with what: the programme mixes both microphones
// with every camera; in the hall the screen is seen with the loudspeakers,
// which must stay live whatever the screen does.
func hallPairs() []service.NewPair {
	var pairs []service.NewPair
	for _, cam := range []string{"cam-1", "cam-2", "cam-3"} {
		for _, mic := range []string{"lectern", "hand"} {
			pairs = append(pairs, service.NewPair{Picture: cam, Sound: mic, Destination: "programme"})
		}
		pairs = append(pairs, service.NewPair{Picture: cam, Sound: "house-pa", Destination: "hall", Importance: "soft"})
	}
	return pairs
}

func quayStudio() service.NewRig {
	return service.NewRig{
		Slug: "quay-studio", Name: "Quay studio", Crew: "blue-van", FrameRate: "29.97",
		Chains: []service.NewChain{
			{Slug: "cam-1", Signal: "picture", Stages: camera("cam-b", "B-002", "house", hd2997)},
			{Slug: "cam-2", Signal: "picture", Stages: camera("cam-b", "B-003", "house", hd2997, "extend-x")},
			{Slug: "presenter", Signal: "sound", AirM: ptr(0.2), Stages: overDesk("radio-mic-w", "desk-delay", hd2997)},
		},
		Destinations: []service.NewDestination{{Slug: "programme", Limit: "ebu-r37"}},
	}
}

func vanKit() service.NewRig {
	return service.NewRig{
		Slug: "van-kit", Name: "Two-camera van kit", Crew: "red-van", FrameRate: "25",
		Chains: []service.NewChain{
			{Slug: "cam-1", Signal: "picture", Stages: camera("cam-a", "C-016", "free", hd25)},
			{Slug: "cam-2", Signal: "picture", Stages: camera("cam-a", "C-017", "free", hd25, "link-l")},
			{Slug: "boom", Signal: "sound", AirM: ptr(1.5), Stages: intoSwitcher("mic-p", "mic-1-delay", "boom-delay", hd25)},
		},
		Destinations: []service.NewDestination{{Slug: "programme", Limit: "ebu-r37"}},
	}
}

func granary() service.NewRig {
	return service.NewRig{
		Slug: "granary", Name: "The Granary, large room", Crew: "blue-van", Visibility: "company", FrameRate: "25",
		Chains: []service.NewChain{
			{Slug: "cam-far", Signal: "picture", Stages: camera("cam-a", "", "unknown", hd25, "extend-x", "conv-c")},
			{Slug: "cam-near", Signal: "picture", Stages: camera("cam-a", "", "unknown", hd25, "extend-x")},
			{Slug: "choir", Signal: "sound", AirM: ptr(9.0), Stages: overDesk("mic-p", "desk-delay", hd25)},
			{Slug: "reader", Signal: "sound", AirM: ptr(0.4), Stages: intoSwitcher("radio-mic-w", "mic-1-delay", "reader-delay", hd25)},
		},
		Destinations: []service.NewDestination{{Slug: "stream", Limit: "itu-bt1359-detectable"}},
	}
}
