package card

import (
	"cmp"
	"fmt"

	"delaybook/domain/timebase"
)

// screensText are the refresh rates that screens commonly have.
var screensText = []string{"50", "59.94", "60", "120"}

// Screens returns the refresh rates that screens commonly have.
func Screens() []timebase.Rate {
	rates := make([]timebase.Rate, len(screensText))
	for i, text := range screensText {
		rates[i], _ = timebase.ParseRate(text) // a test reads each
	}
	return rates
}

// Even reports whether a screen shows each frame of a file equally long. One
// that does not delays each flash by up to a refresh, and not its beep.
func Even(file, screen timebase.Rate) bool {
	return screen.Num()*file.Den()%(screen.Den()*file.Num()) == 0
}

var rank = map[Use]int{Sweeps: 0, Slow: 1, Locked: 2}

// A Choice is the file to play for a camera on a screen, and why.
type Choice struct {
	Camera, Screen timebase.Rate
	Phase          Phase // of the file to play
	Why            string
}

// Choose returns which file to play: of those that the screen shows evenly, the
// one of the best use whose flashes leave the smallest gap in half a minute, then in the whole file. ok
// is false if the screen shows none evenly.
func Choose(camera, screen timebase.Rate) (choice Choice, ok bool) {
	choice = Choice{Camera: camera, Screen: screen}
	for _, rate := range Rates() {
		f, err := NewFile(rate)
		if err != nil || !Even(rate, screen) {
			continue
		}
		p := PhaseOf(f, camera)
		if !ok || cmp.Or(cmp.Compare(rank[p.Use], rank[choice.Phase.Use]), cmp.Compare(p.FilmGap, choice.Phase.FilmGap), cmp.Compare(p.FileGap, choice.Phase.FileGap)) < 0 {
			choice.Phase, ok = p, true
		}
	}
	if ok {
		choice.Why = why(choice)
	}
	return choice, ok
}

func why(c Choice) string {
	file, camera := c.Phase.File.Label(), c.Camera.Label()
	switch c.Phase.Use {
	case Sweeps:
		return fmt.Sprintf("The flashes of the %s file walk through the frames of a %s camera: film half a minute.", file, camera)
	case Slow:
		return fmt.Sprintf("The flashes of the %s file walk through the frames of a %s camera slowly: film the whole minute.", file, camera)
	}
	return fmt.Sprintf("No file that this screen shows evenly walks through the frames of a %s camera; %s is the least bad. "+
		"Take a screen with another refresh rate, or clap.", camera, file)
}
