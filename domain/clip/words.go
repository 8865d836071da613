package clip

import (
	"fmt"
	"math"
	"slices"

	"delaybook/domain/recording"
)

// say puts an offset in words without a sign: "sound early 166.9 ms (5.0
// frames)".
func say(offsetMS, frameMS float64) string {
	if math.Abs(offsetMS) < 0.05 {
		return "sound and picture together"
	}
	side := "early"
	if offsetMS < 0 {
		side = "late"
	}
	return fmt.Sprintf("sound %s %.1f ms (%.1f frames)", side, math.Abs(offsetMS), math.Abs(offsetMS)/frameMS)
}

// advice is what a code means and what to do.
type advice struct{ text, try string }

var refusals = map[recording.RefusalCode]advice{
	recording.NoVideo: {
		"The file has no picture.",
		"Send a recording with picture and sound; two sound files are compared as tracks.",
	},
	recording.NoAudio: {
		"The file has no sound.",
		"Record again with the microphone or line input on.",
	},
	recording.NoFlashes: {
		"No flash was seen.",
		"Fill more of the picture with the card, lock the exposure so that the flash is bright but not white, and keep the camera still.",
	},
	recording.NoBeeps: {
		"Fewer than two beeps were heard.",
		"Turn the card up or bring the microphone nearer, and bypass gates, feedback suppressors and automixers.",
	},
	recording.TooFew: {
		"Fewer than 4 flashes have their beep.",
		"Record the card for at least 10 s, better 20 s, with flash and beep both in reach all the time.",
	},
	recording.Ambiguous: {
		"Another offset fits as well: the events are too evenly spaced to say which beep belongs to which flash.",
		"Use the card, whose intervals all differ, or events more than 5 s apart.",
	},
	recording.Unpaired: {
		"Most flashes and beeps do not belong together.",
		"See that one card makes both, that the offset is below 2.3 s, and that nothing else flashes or beeps.",
	},
	recording.Unreadable: {
		"There is nothing to look at.",
		"Send the recording as the camera or recorder wrote it.",
	},
}

// refuse ends the analysis without a number.
func (a *analysis) refuse(code recording.RefusalCode) recording.Result {
	words := refusals[code]
	a.result.Refused = &recording.Refusal{Code: code, Text: words.text, Try: words.try}
	a.finish()
	return a.result
}

var warnings = map[recording.Flag]advice{
	recording.FlagVFR: {
		"The frames are unevenly spaced, as phones record.",
		"The time stamps are used, so the number stands; a camera at a fixed rate is better.",
	},
	recording.FlagDrift: {
		"The offset changes through the recording.",
		"Lock picture and sound to one reference, or measure again near the part that matters.",
	},
	recording.FlagRateError: {
		"The offset changes by one part in a thousand: 1000/1001 was mixed up.",
		"See whether a device runs at 30 instead of 29.97 (or 24, 60), and set all to one rate.",
	},
	recording.FlagCardRate: {
		"The card ran too fast or too slow against the recording.",
		"Play the card file as it is, not converted or at another frame rate.",
	},
	recording.FlagUnmatched: {
		"Some flashes have no beep, or some beeps no flash.",
		"See that nothing else flashes or beeps, and that no gate closes between beeps.",
	},
	recording.FlagUnstable: {
		"The offset stepped within the recording: every stretch has its own number.",
		"If you switched on purpose, give each stretch to its chain; if not, look for a device that lost its reference.",
	},
	recording.FlagClipped: {
		"The flash is overexposed, which hides how much of a frame it lit.",
		"Close the iris or lower the gain until the flash is below white, and record again for an exact number.",
	},
	recording.FlagFrameLocked: {
		"The flashes fall in fewer than 5 phases of the frame, so more of them add no detail.",
		"Play the card file whose frame rate differs from the camera's.",
	},
	recording.FlagShortExposure: {
		"The shutter is open so briefly that few frames catch a change.",
		"Use a longer shutter time, half a frame or more, or record for longer.",
	},
	recording.FlagLowSNR: {
		"The beep is close to the noise.",
		"Turn the card up or bring the microphone nearer.",
	},
	recording.FlagAudioGap: {
		"Sound is missing in places.",
		"Record again if the number matters; look for a lost clock reference.",
	},
	recording.FlagRolling: {
		"The camera exposes rows one after the other and the flash is off centre; the number is for mid picture height.",
		"Put the flash at mid picture height.",
	},
	recording.FlagEditListDropped: {
		"Frames before the start of the edit were left out.",
		"Nothing to do; the file was cut without being encoded again.",
	},
	recording.FlagCadence: {
		"A rate converter moves every event differently.",
		"The number is the mean; measure before the converter to see the rest alone.",
	},
	recording.FlagSoftOnset: {
		"The beep fades in or its start is missing: something eats tones.",
		"Bypass gates, feedback suppressors, automixers and call software, use no Bluetooth sound, or clap instead.",
	},
	recording.FlagFieldOrder: {
		"The fields come in the other order than the file says; the order in the picture was used.",
		"Correct the field order where the recording is made.",
	},
	recording.FlagInterlaced: {
		"The picture is interlaced; its fields were used as samples in time.",
		"Nothing to do.",
	},
	recording.FlagAutoExposure: {
		"The camera's exposure changes with the flash.",
		"Lock exposure, gain and shutter.",
	},
	recording.FlagCutShort: {
		"Only the beginning was looked at.",
		"Nothing to do if it shows the card; else send the part that does.",
	},
	recording.FlagStampStep: {
		"The container rounds the start of the sound.",
		"Record to MOV or MP4 with finer time stamps for an exact number.",
	},
}

// finish gathers the flags, each once, and puts them in words.
func (a *analysis) finish() {
	all := slices.Clone(a.flags)
	if a.r != nil {
		all = slices.Concat(a.r.Flags, a.flags)
	}
	if a.film != nil && a.film.clock.varies {
		all = append(all, recording.FlagVFR)
	}
	for _, f := range a.result.Segments {
		all = append(all, f.Flags...)
	}
	for _, f := range all {
		if slices.Contains(a.result.Flags, f) {
			continue
		}
		a.result.Flags = append(a.result.Flags, f)
		if words, ok := warnings[f]; ok {
			a.result.Warnings = append(a.result.Warnings, recording.Warning{Code: f, Text: words.text, Try: words.try})
		}
	}
	for i := range a.result.Warnings {
		a.detail(&a.result.Warnings[i])
	}
}

// detail adds the numbers of this recording to a warning.
func (a *analysis) detail(w *recording.Warning) {
	f := a.result.Finding
	if f == nil || f.DriftPPM == nil || w.Code != recording.FlagDrift {
		return
	}
	ppm := math.Abs(*f.DriftPPM)
	side := "earlier"
	if *f.DriftPPM < 0 {
		side = "later"
	}
	w.Text = fmt.Sprintf("The sound gets %s by %.0f parts in a million, %.1f ms a minute: %s.",
		side, ppm, ppm*60/1000, untilLimit(f.OffsetMS, *f.DriftPPM))
}

// untilLimit says when an offset passes 40 ms early or 60 ms late, which EBU
// R37-2007 gives for any output meant for emission.
func untilLimit(offsetMS, ppm float64) string {
	const early, late = 40, -60
	left := early - offsetMS
	if ppm < 0 {
		left = offsetMS - late
	}
	if left <= 0 || offsetMS > early || offsetMS < late {
		return "it is outside 40 ms early to 60 ms late (EBU R37) already"
	}
	return fmt.Sprintf("it leaves 40 ms early to 60 ms late (EBU R37) after %.0f minutes", left/math.Abs(ppm)*1000/60)
}
