package decoder

import (
	"fmt"
	"math"
	"sync"

	"delaybook/domain/recording"
)

// collected is what came out of the program so far.
type collected struct {
	plan     plan
	limits   Limits
	streams  []packets
	bytes    int64
	progress func(float64)

	first float64 // time stamp of the first packet of the first stream
	once  sync.Once
}

// packets are those of one stream: their content in one piece, their lengths, and their time stamps. The two pipes
// are read by two goroutines, of which one writes content and lengths, the other the stamps.
type packets struct {
	content []byte
	lengths []int
	stamps  []stamp
}

func (c *collected) any() bool {
	for _, s := range c.streams {
		if len(s.lengths) > 0 && len(s.stamps) > 0 {
			return true
		}
	}
	return false
}

func (c *collected) add(stream int, content []byte) error {
	if stream < 0 || stream >= len(c.streams) {
		return fmt.Errorf("%w: packets of stream %d", errPayload, stream)
	}
	s := &c.streams[stream]
	c.bytes += int64(len(content))
	isVideo := c.plan.video != nil && stream == 0
	if c.bytes > c.limits.OutputBytes || isVideo && len(s.lengths) >= c.limits.Frames {
		return refuse(recording.Refusal{
			Code: recording.TooLong,
			Text: fmt.Sprintf("The recording has more than %d frames, or more sound than is taken.", c.limits.Frames),
			Try:  "Send 20 seconds of it.",
		}, nil)
	}
	s.content = append(s.content, content...)
	s.lengths = append(s.lengths, len(content))
	return nil
}

func (c *collected) stamp(stream int, s stamp) error {
	if stream < 0 || stream >= len(c.streams) {
		return fmt.Errorf("%w: a time stamp of stream %d", errPayload, stream)
	}
	// Content is bounded; lines without content would not be.
	if len(c.streams[stream].stamps) > 1<<20 {
		return fmt.Errorf("%w: too many time stamps", errPayload)
	}
	c.streams[stream].stamps = append(c.streams[stream].stamps, s)
	if c.progress != nil && stream == 0 && !math.IsNaN(s.at) {
		c.once.Do(func() { c.first = s.at })
		c.progress(min(max((s.at-c.first)/c.expected(), 0), 1))
	}
	return nil
}

// expected is how many seconds will be decoded.
func (c *collected) expected() float64 {
	if whole := c.plan.info.DurationS; whole > 0 {
		return min(whole, c.plan.options.MaxSeconds)
	}
	return c.plan.options.MaxSeconds
}

// recording puts the packets together.
func (c *collected) recording() (*recording.Recording, error) {
	info := c.plan.info
	r := &recording.Recording{Container: info.Container, DurationS: info.DurationS, StampStepS: info.StampStepS}
	flags := map[recording.Flag]bool{recording.FlagStampStep: info.StampStepS > 0}
	if c.plan.video != nil {
		v, dropped, err := c.streams[0].video(c.plan)
		if err != nil {
			return nil, err
		}
		r.Video = v
		flags[recording.FlagEditListDropped] = dropped
		if n := len(v.PTS); n > 0 {
			r.DecodedS = v.PTS[n-1] - v.PTS[0]
		}
	}
	for i, index := range c.plan.sounds {
		s, gaps, err := c.streams[c.plan.firstSound()+i].sound(c.plan.options.MaxSeconds)
		if err != nil {
			return nil, err
		}
		s.Stream, s.Codec = index, info.Sounds[index].Codec
		if len(s.Channels) == 0 {
			continue // a stream without a packet
		}
		flags[recording.FlagAudioGap] = flags[recording.FlagAudioGap] || gaps
		r.Sounds = append(r.Sounds, *s)
		r.DecodedS = max(r.DecodedS, s.EndS()-s.StartS)
	}
	for _, flag := range []recording.Flag{recording.FlagEditListDropped, recording.FlagAudioGap, recording.FlagStampStep} {
		if flags[flag] {
			r.Flags = append(r.Flags, flag)
		}
	}
	if (r.Video == nil || len(r.Video.PTS) == 0) && len(r.Sounds) == 0 {
		return nil, refuse(unreadable("Nothing in the file could be decoded."), nil)
	}
	return r, nil
}
