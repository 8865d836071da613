package clip

import "math"

// gammas are the curves that a camera's picture may have: the fit weighs them,
// because 0.4 of a wrong exponent would move the offset by 0.6 ms. What they are
// near to is common practice; Rec. ITU-R BT.1886 has a display's 2.4.
var gammas = [...]float64{1.7, 2.0, 2.2, 2.5, 2.9}

const plain = 2 // index of the exponent that is used where no fit is made

// A glow is the light of one flash round its onset, as shares of full light.
type glow struct {
	flash
	from  int                       // frame of the first value
	share [len(gammas)][2][]float64 // by exponent, field (0 top) and frame
	bands []rowBand                 // top to bottom; none: too few rows
	noise float64                   // standard deviation of the shares, dark and lit
	flat  bool                      // all dark pixels are black and all lit ones white, as no camera sees them
	burnt float64                   // share of flash pixels at the ceiling
	spare bool                      // measured on pixels that are not at the ceiling
	sag   float64                   // by how much the light falls while the flash lasts, share
	mask  []pixel
	whole int  // frames that it lasts, if it is short
	short bool // lasts so few frames that none is certainly lit
}

// A pixel is a place in a field.
type pixel struct{ y, x int }

// A look measures glows of one film.
type look struct {
	*film
	linear [len(gammas)][256]float64
}

func newLook(f *film) *look {
	l := &look{film: f}
	for g, gamma := range gammas {
		for y := range 256 {
			v := (float64(y) - 16) / 219
			if f.full {
				v = float64(y) / 255
			}
			l.linear[g][y] = math.Pow(max(v, 0), gamma)
		}
	}
	return l
}

// ceiling is the grey level from which a pixel may be overexposed.
func (l *look) ceiling() float64 {
	if l.full {
		return 252
	}
	return 233
}

// before and after are frames kept on both sides of the onset.
const (
	before = 4
	after  = 3
)

// glow measures one flash. It fails at the ends of the recording and where there
// is no contrast.
func (l *look) glow(fl flash) (glow, bool) {
	g := glow{flash: fl, from: fl.first - before}
	darkFrom := max(0, fl.first-6)
	dark := frames(darkFrom, fl.first-2)
	lit := frames(fl.first+1, fl.last-1)
	if len(lit) == 0 {
		g.short = true
		lit = []int{l.brightest(fl)}
	}
	if g.from < 0 || len(dark) < 2 || fl.first+after >= len(l.pts) {
		return glow{}, false
	}
	low, high := l.still(dark), l.still(lit)
	if !l.choose(&g, low, high) {
		return glow{}, false
	}
	to := min(fl.first+after, fl.last-1)
	if g.short {
		to = fl.first + after
	}
	ok := true
	for i := range gammas {
		for parity := range 2 {
			ok = l.shares(&g, i, parity, to, dark, lit) && ok
		}
	}
	l.measureBands(&g, to, dark, lit)
	return g, ok
}

func frames(from, to int) []int {
	var out []int
	for k := from; k <= to; k++ {
		out = append(out, k)
	}
	return out
}

// brightest is the frame of a flash with most light.
func (l *look) brightest(fl flash) int {
	best, at := -1.0, fl.first
	for k := fl.first; k <= fl.last; k++ {
		sum := 0.0
		for _, v := range l.mean[k*blocks : (k+1)*blocks] {
			sum += float64(v)
		}
		if sum > best {
			best, at = sum, k
		}
	}
	return at
}

// still returns the mean picture of frames, both fields together.
func (l *look) still(ks []int) []float64 {
	picture := make([]float64, l.w*l.h)
	for _, k := range ks {
		for y := range l.h {
			even, odd := l.row(k, 0, y), l.row(k, 1, y)
			out := picture[y*l.w : (y+1)*l.w]
			for x := range out {
				out[x] += float64(int(even[x]) + int(odd[x]))
			}
		}
	}
	for i := range picture {
		picture[i] /= 2 * float64(len(ks))
	}
	return picture
}

// flat tells whether a flash is as it was drawn: black and white throughout, to
// what coding leaves.
func (l *look) flat(mask []pixel, low, high []float64) bool {
	black, white := 16.0, 235.0
	if l.full {
		black, white = 0, 255
	}
	odd := 0
	for _, p := range mask {
		if i := p.y*l.w + p.x; low[i] > black+8 || math.Abs(high[i]-white) > 5 {
			odd++
		}
	}
	return 20*odd < len(mask)
}

// choose sets the pixels of the flash: those whose step is more than half of the
// largest, without their rim, which shake and blur move. Of an overexposed flash
// it takes pixels of its halo, which still tell how much light there was.
func (l *look) choose(g *glow, low, high []float64) bool {
	diff := make([]float64, len(low))
	for i := range diff {
		diff[i] = high[i] - low[i]
	}
	top := quantile(diff, 0.995)
	if top < 2*minStep {
		return false
	}
	in := make([]bool, len(diff))
	for i, d := range diff {
		in[i] = d > top/2
	}
	g.mask = l.pixels(in, true)
	if len(g.mask) < 12 {
		g.mask = l.pixels(in, false)
	}
	if g.flat = l.flat(g.mask, low, high); g.flat {
		return true
	}
	over := 0
	for _, p := range g.mask {
		if high[p.y*l.w+p.x] >= l.ceiling() {
			over++
		}
	}
	g.burnt = float64(over) / float64(len(g.mask))
	if g.burnt <= burntShare {
		return true
	}
	for i, d := range diff {
		in[i] = d > max(0.08*top, 12) && high[i] < l.ceiling()-18 && !l.besideBurnt(high, i)
	}
	if halo := l.pixels(in, false); len(halo) >= 40 {
		g.mask, g.spare = halo, true
	}
	return true
}

// besideBurnt tells whether a pixel is so near to one at the ceiling that
// scaling may have mixed it of that one and of the dark, which says nothing of
// how much light there was.
func (l *look) besideBurnt(high []float64, i int) bool {
	const reach = 2
	y, x := i/l.w, i%l.w
	for ny := max(y-reach, 0); ny <= min(y+reach, l.h-1); ny++ {
		for nx := max(x-reach, 0); nx <= min(x+reach, l.w-1); nx++ {
			if high[ny*l.w+nx] >= l.ceiling()-18 {
				return true
			}
		}
	}
	return false
}

// burntShare is the share of flash pixels at the ceiling from which a flash
// counts as overexposed.
const burntShare = 0.3

// pixels lists the places that are in; eroded: with all four neighbours.
func (l *look) pixels(in []bool, eroded bool) []pixel {
	var out []pixel
	for y := range l.h {
		for x := range l.w {
			i := y*l.w + x
			if !in[i] {
				continue
			}
			if eroded && (x == 0 || y == 0 || x == l.w-1 || y == l.h-1 || !in[i-1] || !in[i+1] || !in[i-l.w] || !in[i+l.w]) {
				continue
			}
			out = append(out, pixel{y, x})
		}
	}
	return out
}

// level is the mean light of the mask in one field.
func (l *look) level(mask []pixel, k, parity, gamma int) float64 {
	sum, table := 0.0, &l.linear[gamma]
	for _, p := range mask {
		sum += table[l.luma[l.at[k]+(2*p.y+parity)*l.w+p.x]]
	}
	return sum / float64(len(mask))
}

// shares sets the shares of light of one field and exponent for frames g.from to
// to, and what goes with them. It fails where dark and lit do not differ.
func (l *look) shares(g *glow, gamma, parity, to int, dark, lit []int) bool {
	darks := l.levels(g.mask, dark, parity, gamma)
	lits := l.levels(g.mask, lit, parity, gamma)
	low := median(darks)
	high, sag := plateau(lits)
	contrast := high - low
	if g.short {
		contrast, g.whole = l.together(g, gamma, parity, to, low, contrast)
	}
	if !(contrast > 1e-5) {
		return false
	}
	out := make([]float64, 0, to-g.from+1)
	for k := g.from; k <= to; k++ {
		out = append(out, (l.level(g.mask, k, parity, gamma)-low)/contrast)
	}
	if sag > sags*contrast {
		for i := range out {
			if k := g.from + i; k >= lit[0] && k <= lit[len(lit)-1] && out[i] > 0.6 {
				out[i] = 1 // it is lit, and only the iris says less
			}
		}
	}
	g.share[gamma][parity] = out
	if gamma == plain {
		g.noise = max(g.noise, sdOf(darks)/contrast)
		if len(lits) > 2 {
			g.noise = max(g.noise, scatter(lits)/contrast)
		}
		g.sag = max(g.sag, sag/contrast)
	}
	return true
}

// together returns the contrast of a flash of a few whole frames, and how many:
// light that falls into two frames by halves is that of one. Over frames in a
// row shutters catch the same share of it in all phases.
func (l *look) together(g *glow, gamma, parity, to int, low, most float64) (contrast float64, whole int) {
	sum := 0.0
	for k := g.from; k <= to; k++ {
		sum += l.level(g.mask, k, parity, gamma) - low
	}
	whole = max(1, int(sum/max(most, 1e-9)+0.03))
	return sum / float64(whole), whole
}

func (l *look) levels(mask []pixel, ks []int, parity, gamma int) []float64 {
	out := make([]float64, len(ks))
	for i, k := range ks {
		out[i] = l.level(mask, k, parity, gamma)
	}
	return out
}

// plateau returns the full light at the onset and how far the light falls over
// the flash: where a camera closes its iris on the flash, the first frames say
// what full is. Three quarters of a frame lie on average between an onset and
// the first frame that is lit throughout.
func plateau(lits []float64) (high, sag float64) {
	if len(lits) < 3 {
		return mean(lits), 0
	}
	half := len(lits) / 2
	sag = mean(lits[:half]) - mean(lits[len(lits)-half:])
	if sag > sags*lits[0] && lits[0] > lits[1] {
		return lits[0] + 0.75*(lits[0]-lits[1]), sag
	}
	return median(lits), sag
}

// sags is the share of light by which a flash fades from which on exposure
// counts as following it.
const sags = 0.03

// scatter is the standard deviation of the values about a smooth course, from
// the differences of neighbours.
func scatter(xs []float64) float64 {
	if len(xs) < 3 {
		return 0
	}
	d := make([]float64, len(xs)-2)
	for i := range d {
		d[i] = math.Abs(xs[i] - 2*xs[i+1] + xs[i+2])
	}
	return median(d) / 0.6745 / math.Sqrt(6) // weights 1, -2, 1
}
