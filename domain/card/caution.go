package card

// A Caution is a risk of using the card, what to do about it, and who says so.
type Caution struct {
	Code   string `json:"code" example:"flashes"`
	Text   string `json:"text" example:"Warn everybody present before the first flash."`
	Source string `json:"source" example:"W3C, WCAG 2.2, Success Criterion 2.3.1"`
} //	@name	CardCaution

// Cautions returns what everybody has to be told before the first flash, the
// gravest first.
func Cautions() []Caution {
	return []Caution{
		{
			"flashes",
			"Flashes can start a seizure in people with photosensitive epilepsy. Warn everybody who can see the screen, here and down the line, " +
				"and wait until nobody objects. Any second holds at most two flashes of this card, white on black, never red; three are the most that is held to be safe.",
			"W3C, Web Content Accessibility Guidelines 2.2, Success Criterion 2.3.1 (three flashes or below threshold)",
		},
		{
			"loudness",
			"Start from silence and turn up until the microphone just hears the beep. Nobody wears in-ears or headphones on this feed. " +
				"85 dBA is the limit for 8 hours; each 3 dB more halves the time, so 100 dBA is a quarter of an hour.",
			"NIOSH Publication 98-126, Occupational Noise Exposure (1998): recommended exposure limit",
		},
		{
			"feedback",
			"A microphone that hears its own loudspeaker howls. Pull the loudspeakers down before you open the microphone, and raise one at a time.",
			"common practice, no source",
		},
		{
			"on-air",
			"Keep flash and beep off air, off the stream and out of a hall with an audience. With people in their seats use the quiet check: speech on two tracks.",
			"common practice, no source",
		},
	}
}

// Advice returns how to use the card so that the number is worth something.
func Advice() []string {
	return []string{
		"Play a file from a player that keeps picture and sound together, and trust it more than a page in a browser: a page draws at the next refresh and only knows roughly when its sound leaves.",
		"Choose the file whose rate differs from the camera's. At one rate every flash begins in the same part of the camera's frame, and counting more of them tells nothing new.",
		"Choose a file whose rate divides the refresh rate of the screen: 25 and 50 on 50 Hz, 30 and 60 on 60 Hz. Otherwise single flashes are shown up to a refresh late and their beeps are not.",
		"Use wired or built-in loudspeakers. Bluetooth loudspeakers and headsets delay the sound by 100 to 300 ms, differently each time: do not use them for a measurement.",
		"Switch off what eats tones or their beginnings: feedback suppressors, noise gates, automatic mixers, echo cancellers of call programs. If one can not be bypassed, clap instead.",
		"Fill 2 to 60 % of the picture with the flash area, near the middle of its height, and expose so that white stays just below clipping. Lock exposure and shutter.",
		"Film half a minute, or the whole file. A film may start anywhere in the sequence.",
		"Learn the screen's own delay once: film the card and, in the same film, clap in front of the screen, with the microphone as near to the hands as to the loudspeaker. Send both as measurements of one power-up: the book then knows this card source.",
	}
}
