package clip

import (
	"math"
	"slices"

	"delaybook/domain/recording"
)

// Blocks of the picture, so that a small flash is not lost in the mean of all.
const (
	blockColumns = 12
	blockRows    = 9
	blocks       = blockColumns * blockRows
)

// A film is the picture with stamps in order. Its pictures are looked at as two
// fields of w by h, whatever the scan.
type film struct {
	w, h      int
	frameSize int
	luma      []byte
	at        []int // of each frame, its place in luma
	pts       []float64
	clock     frameClock
	scan      recording.Scan // as the file says
	full      bool           // range of luma
	mean      []float32      // means of blocks, frame by frame
}

// minFrames is less than any four events last.
const minFrames = 24

// newFilm returns nil if there is too little picture to hold four events.
func newFilm(v *recording.Video) *film {
	if v == nil || v.Width < blockColumns || v.Height < 2*blockRows {
		return nil
	}
	f := &film{
		w: v.Width, h: v.Height / 2, frameSize: v.Width * v.Height,
		luma: v.Luma, scan: v.Scan, full: v.FullRange,
	}
	order := make([]int, 0, len(v.PTS))
	for i, t := range v.PTS {
		if !math.IsNaN(t) && !math.IsInf(t, 0) && (i+1)*f.frameSize <= len(v.Luma) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case v.PTS[a] < v.PTS[b]:
			return -1
		case v.PTS[a] > v.PTS[b]:
			return 1
		}
		return 0
	})
	for _, i := range order {
		if n := len(f.pts); n > 0 && v.PTS[i]-f.pts[n-1] < 1e-6 { // a frame stamped like another one says nothing
			continue
		}
		f.at = append(f.at, i*f.frameSize)
		f.pts = append(f.pts, v.PTS[i])
	}
	if len(f.pts) < minFrames {
		return nil
	}
	f.clock = clockOf(f.pts)
	f.mean = f.blockMeans()
	return f
}

// centre is the instant that frame k stands for.
func (f *film) centre(k int) float64 { return f.pts[k] + f.clock.periodS/2 }

// row returns row y of one field of frame k: parity 0 is the top field.
func (f *film) row(k, parity, y int) []byte {
	from := f.at[k] + (2*y+parity)*f.w
	return f.luma[from : from+f.w]
}

// block returns the block of column x and field row y.
func (f *film) block(x, y int) int {
	return y*blockRows/f.h*blockColumns + x*blockColumns/f.w
}

func (f *film) blockMeans() []float32 {
	out := make([]float32, len(f.pts)*blocks)
	column := make([]int, f.w)
	for x := range column {
		column[x] = f.block(x, 0)
	}
	var count [blocks]int
	for y := range f.h {
		for x := range f.w {
			count[f.block(x, y)] += 2
		}
	}
	for k := range f.pts {
		var sum [blocks]int
		for y := range f.h {
			first := f.block(0, y)
			for parity := range 2 {
				for x, v := range f.row(k, parity, y) {
					sum[first+column[x]] += int(v)
				}
			}
		}
		for b, s := range sum {
			out[k*blocks+b] = float32(s) / float32(max(count[b], 1))
		}
	}
	return out
}

// repeats tells whether some frames are copies of the one before: of the
// differences between neighbours a part is far smaller than the rest.
func (f *film) repeats() bool {
	diff := make([]float64, 0, len(f.pts)-1)
	for k := 1; k < len(f.pts); k++ {
		sum := 0.0
		for y := range f.h {
			a, b := f.row(k-1, 0, y), f.row(k, 0, y)
			for x := 0; x < f.w; x += 3 {
				d := float64(int(a[x]) - int(b[x]))
				sum += d * d
			}
		}
		diff = append(diff, sum)
	}
	usual := quantile(diff, 0.6)
	low := quantile(diff, 0.08)
	return usual > 0 && low < 0.1*usual
}
