package tracks

import "delaybook/domain/recording"

// A Track is one channel of sound to compare.
type Track struct {
	Sound      recording.Sound
	Channel    int             // of Sound
	Ref        recording.Track // how the result names it
	StampStepS float64         // to what the container rounds the start of the stream; 0: exact enough not to matter
}

// Options are what the person may say. The zero value leaves all to Pick.
type Options struct {
	First, Second *recording.Track // the tracks to compare; nil: Pick chooses
}

const (
	reachS    = 2.2   // the longest delay that is looked for
	shortestS = 2.0   // of common sound
	longestS  = 120.0 // of sound that is looked at
)

// Compare measures how much later the sound arrives in first than in second.
// The result's OffsetMS is arrival in first minus arrival in second, in the
// middle of the stretch: positive says that the second track is early.
//
// What cannot be measured is refused with the reason; Compare never returns a
// number that is not finite, nor one from tracks that do not share their sound.
func Compare(first, second Track) recording.Result {
	p, refusal := prepare(first, second)
	if refusal != nil {
		return refused(refusal, p)
	}
	m, refusal := search(p)
	if refusal != nil {
		return refused(refusal, p)
	}
	return report(p, m)
}

func refused(why *recording.Refusal, p *pair) recording.Result {
	r := recording.Result{
		Method: recording.ByTracks, Segments: []recording.Finding{}, Flags: []recording.Flag{},
		Warnings: []recording.Warning{}, Refused: why,
	}
	if p != nil {
		r.DurationS = p.durationS
		r.Evidence = p.evidence()
	}
	return r
}
