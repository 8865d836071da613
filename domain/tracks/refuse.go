package tracks

import (
	"fmt"
	"math"

	"delaybook/domain/recording"

	"gonum.org/v1/gonum/dsp/fourier"
)

var names = [2]string{"first", "second"}

func refusal(code recording.RefusalCode, try, text string, values ...any) *recording.Refusal {
	return &recording.Refusal{Code: code, Text: fmt.Sprintf(text, values...), Try: try}
}

func tooShort(s float64) *recording.Refusal {
	return refusal(recording.TooShort, "Record 10 s or more in which both tracks run.",
		"The two tracks have %.1f s in common; it takes %g s.", s, shortestS)
}

func silent(name string) *recording.Refusal {
	return refusal(recording.Silent, "Bring up the gain of that input, look whether it is the right one, and record again.",
		"The %s track is silent.", name)
}

func tonal(name string) *recording.Refusal {
	return refusal(recording.Tonal, "Record speech, a few claps or full music, without a filter that leaves a narrow band.",
		"The %s track holds a tone, a hum or a narrow band only: it fits at any of its periods.", name)
}

func unrelated() *recording.Refusal {
	return refusal(recording.Unrelated, "Check that both tracks hear the same source, within 2 s of each other, and record 20 s.",
		"The two tracks do not hold the same sound, or too little of it.")
}

func echo() *recording.Refusal {
	return refusal(recording.Echo, "Move the microphone to where it hears one loudspeaker or the voice directly, and record again.",
		"A reflection or a second loudspeaker is as loud as the direct sound: two delays fit equally well.")
}

func jumps() *recording.Refusal {
	return refusal(recording.Jumps, "Send the stretch before or after the cut or drop-out, or record again without one.",
		"Stretches of the recording say different delays: there is a cut, a drop-out or a change of delay in it.")
}

func noSuchChannel(name string, channel, channels int) *recording.Refusal {
	return refusal(recording.OneTrack, "Name a channel that the file has.",
		"The %s track is to be channel %d, and its stream has %d.", name, channel+1, channels)
}

func badSound(name string) *recording.Refusal {
	return refusal(recording.Unreadable, "Send sound of 8000 samples a second or more, as the recorder wrote it.",
		"The %s track does not hold samples that can be compared.", name)
}

const (
	richLength = 4096 // 6 Hz a line
	leastRich  = 0.04 // a tone has 0.01: refused whatever it seems to say
	poor       = 0.12 // hum has 0.08, music 0.08 and more, speech 0.4: the likely reason if nothing is found
)

// richness returns which part of the lines from 150 Hz to highHz has a mean
// power within 30 dB of the strongest.
func richness(x []float64, highHz float64) float64 {
	fft := fourier.NewFFT(richLength)
	window := taper(richLength, 0.5)
	piece := make([]float64, richLength)
	coefficients := make([]complex128, richLength/2+1)
	power := make([]float64, len(coefficients))
	for from := 0; from+richLength <= len(x); from += richLength / 2 {
		for i, w := range window {
			piece[i] = w * x[from+i]
		}
		for k, v := range fft.Coefficients(coefficients, piece) {
			power[k] += real(v)*real(v) + imag(v)*imag(v)
		}
	}
	low := int(math.Round(lowHz * richLength / workRate))
	high := int(highHz * richLength / workRate)
	most := 0.0
	for _, v := range power[low:high] {
		most = max(most, v)
	}
	rich := 0
	for _, v := range power[low:high] {
		if most > 0 && v >= most*1e-3 {
			rich++
		}
	}
	// Of 150 to 8000 Hz whatever the track can hold: a track of few samples a second is a narrow band.
	return float64(rich) / ((8000 - lowHz) * richLength / workRate)
}
