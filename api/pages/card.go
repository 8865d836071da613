package pages

import (
	"fmt"
	"net/http"
	"strings"

	"delaybook/domain/card"
	"delaybook/domain/timebase"
)

// CardPath is where the page of the flash-and-beep card is. It needs no key, and
// works without its script except for playing.
const CardPath = "/card"

// A cardPage is the flash-and-beep card: cautions first, then the files, which
// are the better way, then the card played by the page itself.
type cardPage struct {
	Cautions       []card.Caution
	Advice         []string
	Rates, Screens []string
	Camera, Screen string // as asked
	Choice         *cardChoice
	Fault          string    // why there is no choice although one was asked for
	Play           cardEvent // for the script
}

// A cardChoice is the file to play.
type cardChoice struct {
	Label, Why string
	Locked     bool
}

// A cardEvent is what the script has to know of the card.
type cardEvent struct {
	Intervals                                             string // ms
	FlashMS, BeepMS, ToneHz, AttackMS, DecayMS, LevelDBFS int
}

func showCard(v *visit) error {
	shown := cardPage{
		Cautions: card.Cautions(), Advice: card.Advice(), Rates: labels(card.Rates()), Screens: labels(card.Screens()),
		Camera: v.QueryParam("camera"), Screen: v.QueryParam("screen"),
		Play: cardEvent{
			Intervals: strings.Trim(fmt.Sprint(card.Intervals()), "[]"), FlashMS: card.FlashMS, BeepMS: card.BeepMS,
			ToneHz: card.ToneHz, AttackMS: card.AttackMS, DecayMS: card.DecayMS, LevelDBFS: card.LevelDBFS,
		},
	}
	if shown.Camera != "" || shown.Screen != "" {
		shown.Choice, shown.Fault = chooseFile(shown.Camera, shown.Screen)
	}
	return v.show(http.StatusOK, "card", shown)
}

// chooseFile finds the file for a camera and a screen, or says why there is none.
func chooseFile(camera, screen string) (choice *cardChoice, fault string) {
	cameraRate, err := timebase.ParseRate(camera)
	if err != nil {
		return nil, "The camera's rate can not be read: take one from the list."
	}
	screenRate, err := timebase.ParseRate(screen)
	if err != nil {
		return nil, "The screen's rate can not be read: take one from the list."
	}
	x, ok := card.Choose(cameraRate, screenRate)
	if !ok {
		return nil, "No file is shown evenly on this screen. Take another screen, or clap."
	}
	return &cardChoice{Label: x.Phase.File.Label(), Why: x.Why, Locked: x.Phase.Use == card.Locked}, ""
}

func labels(rates []timebase.Rate) []string {
	out := make([]string, len(rates))
	for i, rate := range rates {
		out[i] = rate.Label()
	}
	return out
}
