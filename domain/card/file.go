package card

import (
	"fmt"
	"math/big"

	"delaybook/domain/timebase"
)

// The shape of a file card.
const (
	Cycles     = 5     // of the sequence
	LeadInMS   = 400   // before the first event. Less than the last interval: the file can be looped without a seam
	SampleRate = 48000 // samples a second
)

// ratesText are the frame rates that files are made at, in order.
var ratesText = []string{"23.976", "24", "25", "29.97", "30", "50", "59.94", "60"}

// Rates returns the frame rates that files are made at, slowest first.
func Rates() []timebase.Rate {
	rates := make([]timebase.Rate, len(ratesText))
	for i, text := range ratesText {
		rates[i], _ = timebase.ParseRate(text) // a test reads each
	}
	return rates
}

// An Event is one flash with its beep in a file.
type Event struct {
	Frame  int64 // of the first white picture; 0 is the first frame of the file
	Sample int64 // at which the beep starts; 0 is the first sample of the file
}

// A File is a card laid on the frames of a rate. It holds no pictures.
type File struct {
	Rate        timebase.Rate
	Frames      int64 // of the whole file
	Samples     int64 // of the whole file, at SampleRate
	FlashFrames int64 // how many frames a flash lasts
	Events      []Event
}

// NewFile lays the card on the frames of a rate from 20 to 240 frames a second;
// outside it, the error is a *timebase.InputError.
func NewFile(rate timebase.Rate) (*File, error) {
	if rate.IsZero() || rate.Float() < 20 || rate.Float() > 240 {
		return nil, &timebase.InputError{
			Input: rate.String(), Detail: "a card is not made at this rate", Send: "a rate from 20 to 240 frames per second",
		}
	}
	f := &File{Rate: rate, Frames: nearestFrame(rate, Cycles*CycleMS), FlashFrames: nearestFrame(rate, FlashMS)}
	f.Samples = sampleOf(rate, f.Frames)
	for k := range Cycles * EventsPerCycle {
		frame := nearestFrame(rate, LeadInMS+StartMS(k))
		f.Events = append(f.Events, Event{Frame: frame, Sample: sampleOf(rate, frame)})
	}
	return f, nil
}

// nearestFrame returns the frame whose start is nearest to a time in ms.
func nearestFrame(rate timebase.Rate, ms int) int64 {
	frame, _ := timebase.Nearest(rate.FramesRat(big.NewRat(int64(ms), 1))) // a minute of frames fits
	return frame
}

// sampleOf returns the sample nearest to the start of a frame.
func sampleOf(rate timebase.Rate, frame int64) int64 {
	exact := big.NewRat(frame*SampleRate, 1)
	sample, _ := timebase.Nearest(exact.Quo(exact, rate.Rat())) // a minute of samples fits
	return sample
}

// Lit reports whether the flash area is white in a frame.
func (f *File) Lit(frame int64) bool {
	for _, e := range f.Events {
		if frame >= e.Frame && frame < e.Frame+f.FlashFrames {
			return true
		}
	}
	return false
}

// A Truth says where one event of a file is, exactly: what a measurement of the
// file itself has to find.
type Truth struct {
	Event    int     `json:"event" example:"1"`          // counted from 1
	Frame    int64   `json:"frame" example:"10"`         // of the first white picture, counted from 0
	Sample   int64   `json:"sample" example:"19219"`     // of the start of the beep at 48 kHz, counted from 0
	PictureS float64 `json:"picture_s" example:"0.4004"` // start of the flash, s
	SoundS   float64 `json:"sound_s" example:"0.400396"` // start of the beep, s; within half a sample of the flash
} //	@name	CardEvent

// Truth returns where each event of the file is.
func (f *File) Truth() []Truth {
	list := make([]Truth, len(f.Events))
	for k, e := range f.Events {
		list[k] = Truth{
			Event: k + 1, Frame: e.Frame, Sample: e.Sample,
			PictureS: f.Rate.FramesMS(e.Frame) / 1000, SoundS: float64(e.Sample) / SampleRate,
		}
	}
	return list
}

// TruthCSV returns the truth of a file as a table (RFC 4180).
func TruthCSV(f *File) []byte {
	text := []byte("event,frame,sample,picture_s,sound_s\r\n")
	for _, e := range f.Truth() {
		text = fmt.Appendf(text, "%d,%d,%d,%.9f,%.9f\r\n", e.Event, e.Frame, e.Sample, e.PictureS, e.SoundS)
	}
	return text
}
