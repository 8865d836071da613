package clip

import (
	"math"

	"delaybook/domain/recording"
)

// A rowClock is what the rows of the flashes say about when rows are exposed.
type rowClock struct {
	scan     recording.Scan // found, not what the file says
	reversed bool           // the file names the other order
	shift    float64        // from the first to the second field, frames
	readout  float64        // how much later the last row of a frame is exposed than the first, frames; 0: not at all
	readoutU float64        // its standard uncertainty
}

// findRows compares where the onset lies in the two fields.
//
// The sum of the shares of light over the frames of an onset counts the frames
// since it, whatever the exposure time. Between fields that are half a frame
// apart it differs by 0.5 on average; between the halves of a frame taken at
// once by nothing. So the picture tells, and the file's word is not needed.
func findRows(glows []glow, said recording.Scan) rowClock {
	r := rowClock{scan: recording.Progressive}
	var shift []float64
	for _, g := range glows {
		top, bottom := g.share[plain][0], g.share[plain][1]
		sum := 0.0
		for i := range top {
			sum += bottom[i] - top[i]
		}
		shift = append(shift, sum)
	}
	if len(shift) == 0 {
		return r
	}
	r.shift = mean(shift)
	uncertain := sdOf(shift) / math.Sqrt(float64(len(shift)))
	if math.Abs(r.shift) > 0.25 && math.Abs(r.shift) > 3*uncertain {
		r.scan = recording.TopFirst
		if r.shift < 0 {
			r.scan = recording.BottomFirst
		}
		r.reversed = said != recording.Progressive && said != "" && said != r.scan
	}
	return r
}

// offCentre is where the middle of the flash lies: 0 at mid picture height, 0.5
// at the last row.
func offCentre(glows []glow, h int) float64 {
	sum, n := 0.0, 0
	for _, g := range glows {
		for _, p := range g.mask {
			sum += (float64(p.y) + 0.5) / float64(h)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum/float64(n) - 0.5
}
