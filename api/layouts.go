package api

import (
	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/service"
)

// A NewChain describes a chain.
type NewChain struct {
	Slug    string     `json:"slug" example:"lectern"`
	Signal  string     `json:"signal" example:"sound" enums:"picture,sound"`
	Subject string     `json:"subject" validate:"optional" example:"stage"`                     // default stage
	AirM    *float64   `json:"air_m" validate:"optional" extensions:"x-nullable" example:"0.3"` // metres from the sound's source to the microphone
	Stages  []NewStage `json:"stages"`
} //	@name	NewChain

func (in NewChain) toService() service.NewChain {
	return service.NewChain{Slug: in.Slug, Signal: in.Signal, Subject: in.Subject, AirM: in.AirM, Stages: toStages(in.Stages)}
}

// A NewStage describes a stage.
type NewStage struct {
	Device   string          `json:"device" example:"mixer-s"`
	Mode     string          `json:"mode" example:"1080p2997"`
	Unit     *string         `json:"unit" validate:"optional" extensions:"x-nullable" example:"S-002"` // asset tag
	Timing   string          `json:"timing" validate:"optional" example:"free" enums:"house,free,unknown"`
	Controls []NewControlUse `json:"controls" validate:"optional"`
} //	@name	NewStage

// A NewControlUse places a control in a stage.
type NewControlUse struct {
	Control string `json:"control" example:"mic-1-delay"`
	Name    string `json:"name" validate:"optional" example:"lectern-delay"`           // its identity in the rig; default the control's slug
	Ours    *bool  `json:"ours,omitempty" validate:"optional" extensions:"x-nullable"` // default as the control says
} //	@name	NewControlUse

func toStages(in []NewStage) []service.NewStage {
	var out []service.NewStage
	for _, x := range in {
		stage := service.NewStage{Device: x.Device, Mode: x.Mode, Unit: text(x.Unit), Timing: x.Timing}
		for _, u := range x.Controls {
			stage.Controls = append(stage.Controls, service.NewControlUse(u))
		}
		out = append(out, stage)
	}
	return out
}

// A NewDestination describes a destination.
type NewDestination struct {
	Slug    string     `json:"slug" example:"hall"`
	Limit   string     `json:"limit" validate:"optional" example:"ebu-r37"`                    // default ebu-r37
	AirM    *float64   `json:"air_m" validate:"optional" extensions:"x-nullable" example:"18"` // metres from loudspeaker to listener
	Picture []NewStage `json:"picture" validate:"optional"`                                    // tail of every picture chain
	Sound   []NewStage `json:"sound" validate:"optional"`                                      // tail of every sound chain
	Seats   []NewSeat  `json:"seats" validate:"optional"`                                      // other places to listen at
} //	@name	NewDestination

func (in NewDestination) toService() service.NewDestination {
	out := service.NewDestination{
		Slug: in.Slug, Limit: in.Limit, AirM: in.AirM, Picture: toStages(in.Picture), Sound: toStages(in.Sound),
	}
	for _, seat := range in.Seats {
		out.Seats = append(out.Seats, service.NewSeat(seat))
	}
	return out
}

// A NewSeat describes a place at a destination that is nearer or further than its own.
type NewSeat struct {
	Slug string   `json:"slug" example:"far"`
	AirM *float64 `json:"air_m" example:"32"` // metres from loudspeaker to seat
} //	@name	NewSeat

// A NewFeed describes a feed.
type NewFeed struct {
	Slug       string   `json:"slug" example:"pa"`
	Chain      string   `json:"chain" example:"lectern"`
	MaxAddedMS *float64 `json:"max_added_ms" example:"5"` // the most delay it may be given, ms
} //	@name	NewFeed

// A NewPair says how much a pair matters.
type NewPair struct {
	Picture     string `json:"picture" example:"cam-1"`
	Sound       string `json:"sound" example:"lectern"`
	Destination string `json:"destination" validate:"optional" example:"programme"` // default every one
	Importance  string `json:"importance" validate:"optional" example:"hard" enums:"hard,soft,ignore"`
} //	@name	NewPair

// A Layout is how a rig is connected.
type Layout struct {
	FrameRate      string        `json:"frame_rate" example:"30000/1001"`
	FrameRateLabel string        `json:"frame_rate_label" example:"29.97"`
	Chains         []Chain       `json:"chains"`
	Destinations   []Destination `json:"destinations"`
	Feeds          []Feed        `json:"feeds"`
	Pairs          []Pair        `json:"pairs"` // as listed; empty: all of one subject at every destination, hard
} //	@name	Layout

// A Chain is the ordered stages that one signal passes.
type Chain struct {
	Slug    string  `json:"slug" example:"lectern"`
	Signal  string  `json:"signal" example:"sound" enums:"picture,sound"`
	Subject string  `json:"subject" example:"stage"`
	AirM    float64 `json:"air_m" example:"0.3"`
	Stages  []Stage `json:"stages"`
} //	@name	Chain

// A Stage is a device in a mode.
type Stage struct {
	Device   string          `json:"device" example:"mixer-s"`
	Mode     string          `json:"mode" example:"1080p2997"`
	Unit     *string         `json:"unit" extensions:"x-nullable" example:"S-002"`
	Timing   string          `json:"timing" example:"free" enums:"house,free,unknown"`
	Controls []NewControlUse `json:"controls"`
} //	@name	Stage

// A Destination is where picture and sound are compared.
type Destination struct {
	Slug    string  `json:"slug" example:"hall"`
	Limit   string  `json:"limit" example:"ebu-r37"`
	AirM    float64 `json:"air_m" example:"18"`
	Picture []Stage `json:"picture"`
	Sound   []Stage `json:"sound"`
	Seats   []Seat  `json:"seats"`
} //	@name	Destination

// A Seat is a place at a destination that is nearer or further than its own.
type Seat struct {
	Slug string  `json:"slug" example:"far"`
	AirM float64 `json:"air_m" example:"32"`
} //	@name	Seat

// A Feed is a sound chain that must stay live.
type Feed struct {
	Slug       string  `json:"slug" example:"pa"`
	Chain      string  `json:"chain" example:"lectern"`
	MaxAddedMS float64 `json:"max_added_ms" example:"5"`
} //	@name	Feed

// A Pair is a picture chain and a sound chain that are seen and heard together.
type Pair struct {
	Picture     string `json:"picture" example:"cam-1"`
	Sound       string `json:"sound" example:"lectern"`
	Destination string `json:"destination" example:"programme"` // empty: every one
	Importance  string `json:"importance" example:"hard" enums:"hard,soft,ignore"`
} //	@name	Pair

func fromLayout(b *book.Book, l *domain.Layout) Layout {
	out := Layout{
		FrameRate: l.FrameRate.String(), FrameRateLabel: l.FrameRate.Label(),
		Chains: []Chain{}, Destinations: []Destination{}, Feeds: []Feed{}, Pairs: []Pair{},
	}
	for _, x := range l.Chains {
		out.Chains = append(out.Chains, Chain{
			Slug: string(x.Slug), Signal: string(x.Signal), Subject: x.Subject, AirM: x.AirM, Stages: fromStages(b, x.Stages),
		})
	}
	for _, x := range l.Destinations {
		d := Destination{
			Slug: string(x.Slug), Limit: string(x.Limit), AirM: x.AirM, Picture: fromStages(b, x.Picture), Sound: fromStages(b, x.Sound),
			Seats: []Seat{},
		}
		for _, seat := range x.Seats {
			d.Seats = append(d.Seats, Seat{Slug: string(seat.Slug), AirM: seat.AirM})
		}
		out.Destinations = append(out.Destinations, d)
	}
	for _, x := range l.Feeds {
		out.Feeds = append(out.Feeds, Feed{Slug: string(x.Slug), Chain: string(x.Chain), MaxAddedMS: x.MaxAddedMS})
	}
	for _, x := range l.Pairs {
		out.Pairs = append(out.Pairs, Pair{
			Picture: string(x.Picture), Sound: string(x.Sound), Destination: string(x.Destination), Importance: string(x.Importance),
		})
	}
	return out
}

func fromStages(b *book.Book, stages []domain.Stage) []Stage {
	out := []Stage{}
	for _, x := range stages {
		d, _ := b.Device(x.Device)
		stage := Stage{Device: string(d.Slug), Timing: string(x.Timing), Controls: []NewControlUse{}}
		if m, ok := d.ModeByID(x.Mode); ok {
			stage.Mode = string(m.Slug)
		}
		if u, ok := d.UnitByID(x.Unit); ok {
			stage.Unit = &u.Tag
		}
		for _, u := range x.Controls {
			if control, ok := d.ControlByID(u.Control); ok {
				stage.Controls = append(stage.Controls, NewControlUse{Control: string(control.Slug), Name: string(u.Name), Ours: u.Ours})
			}
		}
		out = append(out, stage)
	}
	return out
}
