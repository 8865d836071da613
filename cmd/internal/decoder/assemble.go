package decoder

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"delaybook/domain/recording"
)

// editSlackS is how long before the start of an edit a frame may be and still belong to it: starts are rounded to the
// unit of the movie, and frames before the edit, kept only for the decoder, come a whole frame earlier.
const editSlackS = 0.020

// video answers the frames in order. Those that the edit list leaves out are dropped, and told; so are those without
// a time stamp or with one that runs back.
func (p *packets) video(plan plan) (v *recording.Video, dropped bool, err error) {
	const size = pictureWidth * pictureHeight
	info := plan.video
	v = &recording.Video{
		Codec: info.Codec, SourceWidth: info.Width, SourceHeight: info.Height, Width: pictureWidth, Height: pictureHeight,
		Scan: info.Scan, NominalFPS: info.NominalFPS, FullRange: info.FullRange && hasLuma(info.PixelFormat),
	}
	last := math.Inf(-1)
	kept := 0
	for i := range min(len(p.lengths), len(p.stamps)) {
		at := p.stamps[i].at
		if p.lengths[i] != size || p.stamps[i].size != size {
			return nil, false, fmt.Errorf("%w: a picture of %d bytes", errPayload, p.lengths[i])
		}
		early := plan.info.Container == "mov" && at < -editSlackS
		dropped = dropped || early
		if early || !(at > last) {
			continue
		}
		last = at
		v.PTS = append(v.PTS, at)
		copy(p.content[kept*size:(kept+1)*size], p.content[i*size:(i+1)*size])
		kept++
	}
	v.Luma = p.content[: kept*size : kept*size]
	return v, dropped, nil
}

// joinS is by how much a packet may miss the end of the one before and still follow it: stamps are rounded, in some
// containers to a millisecond.
const joinS = 0.002

// sound lays the packets on the axis of time by their stamps, with silence where some are missing.
func (p *packets) sound(maxSeconds float64) (s *recording.Sound, gaps bool, err error) {
	s = &recording.Sound{Rate: soundRate}
	channels, err := p.channels()
	if err != nil || channels == 0 {
		return s, false, err
	}
	lay := layout{channels: make([][]float32, channels), limit: int((maxSeconds + 10) * soundRate)}
	at := 0
	for i := range min(len(p.lengths), len(p.stamps)) {
		content := p.content[at : at+p.lengths[i]]
		at += p.lengths[i]
		if len(content) != p.stamps[i].size || len(content)%(2*channels) != 0 {
			return nil, false, fmt.Errorf("%w: sound of %d bytes for %d channels", errPayload, len(content), channels)
		}
		lay.add(p.stamps[i].at, content)
	}
	s.Channels, s.StartS = lay.channels, lay.start()
	return s, lay.gaps, nil
}

// channels is how many the first packet holds that says how long it lasts.
func (p *packets) channels() (int, error) {
	for _, s := range p.stamps {
		if s.units <= 0 || s.size == 0 {
			continue
		}
		n := int64(s.size) / (2 * s.units)
		if n < 1 || n > 64 || n*2*s.units != int64(s.size) {
			return 0, fmt.Errorf("%w: %d bytes for %d samples", errPayload, s.size, s.units)
		}
		return int(n), nil
	}
	return 0, nil
}

// A layout grows channel by channel as packets are laid on it.
type layout struct {
	channels [][]float32
	limit    int // samples a channel at most
	origin   float64
	began    bool
	gaps     bool
	misses   []float64 // until the first gap, by how much each stamp differs from the samples before it
}

// add lays one packet of interleaved 16 bit samples at a time stamp.
func (l *layout) add(at float64, content []byte) {
	n := len(l.channels)
	if !l.began {
		if math.IsNaN(at) {
			return
		}
		l.began, l.origin = true, at
	}
	end := len(l.channels[0])
	miss := at - l.origin - float64(end)/soundRate
	skip := 0
	switch {
	case math.IsNaN(miss):
		// Without a stamp of its own it follows.
	case math.Abs(miss) <= joinS:
		if !l.gaps {
			l.misses = append(l.misses, miss)
		}
	case miss > 0:
		l.gaps = true
		l.silence(int(math.Round(min(miss*soundRate, float64(l.limit)))))
	default:
		l.gaps = true
		skip = int(math.Round(min(-miss*soundRate, float64(l.limit))))
	}
	for frame := skip; (frame+1)*2*n <= len(content) && len(l.channels[0]) < l.limit; frame++ {
		for c := range n {
			value := int16(binary.LittleEndian.Uint16(content[(frame*n+c)*2:]))
			l.channels[c] = append(l.channels[c], float32(value)/32768)
		}
	}
}

func (l *layout) silence(samples int) {
	samples = min(samples, l.limit-len(l.channels[0]))
	for c := range l.channels {
		l.channels[c] = append(l.channels[c], make([]float32, samples)...)
	}
}

// start is the instant of the first sample: the median over all stamps, because the first may be rounded to a
// millisecond while together they are exact.
func (l *layout) start() float64 {
	if len(l.misses) == 0 {
		return l.origin
	}
	slices.Sort(l.misses)
	return l.origin + l.misses[len(l.misses)/2]
}
