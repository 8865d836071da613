package camera

import (
	"math"
	"slices"

	"delaybook/domain/recording"
)

// start of the first frame: not on the grid of anything else.
const firstFrameS = 0.0037

func (t *take) film() *recording.Video {
	v := &recording.Video{Codec: "simulated", SourceWidth: 1920, SourceHeight: 1080, Width: Width, Height: Height, NominalFPS: t.FPS}
	first := firstFrameS
	if t.Digital || t.Locked {
		first = 0
	}
	alpha := t.area()
	var last []byte
	source := -1
	for k := 0; ; k++ {
		start := first + float64(k)*t.nominal
		if start+t.nominal > t.LengthS {
			return v
		}
		picture := last
		if n := t.sourceFrame(start, first); n != source || t.CadenceFPS == 0 {
			source = n
			picture = t.expose(t.sourceStart(n, start, first), alpha)
		}
		last = picture
		if t.DropShare > 0 && k > 2 && t.rng.Float64() < t.DropShare {
			continue
		}
		stamp := start
		if t.JitterMS > 0 {
			stamp += 1e-3 * t.JitterMS * t.rng.NormFloat64()
		}
		if n := len(v.PTS); n > 0 {
			stamp = max(stamp, v.PTS[n-1]+1e-3)
		}
		v.PTS = append(v.PTS, stamp)
		v.Luma = append(v.Luma, picture...)
	}
}

// sourceFrame is the frame that a converter shows.
func (t *take) sourceFrame(start, first float64) int {
	if t.CadenceFPS == 0 {
		return 0
	}
	return int(math.Floor((start - first + 1e-9) * t.CadenceFPS))
}

func (t *take) sourceStart(n int, start, first float64) float64 {
	if t.CadenceFPS == 0 {
		return start
	}
	return first + float64(n)/t.CadenceFPS
}

// area is how much of each pixel is flash.
func (t *take) area() []float64 {
	side := math.Sqrt(t.Area)
	out := make([]float64, Width*Height)
	soft := max(t.Blur, 0.3)
	edge := func(x, half float64, size float64) float64 {
		return 0.5 * (math.Erf((half-math.Abs(x))*size/soft/math.Sqrt2) + 1)
	}
	for y := range Height {
		for x := range Width {
			dx := (float64(x)+0.5)/Width - 0.5
			dy := (float64(y)+0.5)/Height - 0.5 - t.OffCentre
			out[y*Width+x] = edge(dx, side/2, Width) * edge(dy, side/2, Height)
			if t.Bare {
				continue
			}
			// Light from the flash on what is round it.
			out[y*Width+x] += 0.03 * (1 - out[y*Width+x]) * math.Exp(-4*(dx*dx+dy*dy))
		}
	}
	return out
}

// lightOf is the share of an exposure in which any flash is on.
func (t *take) lightOf(open, shut float64) float64 {
	sum := 0.0
	i, _ := slices.BinarySearch(t.flashes, open-1)
	for _, f := range t.flashes[i:] {
		if f > shut {
			break
		}
		sum += max(0, min(shut, f+t.FlashS)-max(open, f))
	}
	return sum / (shut - open)
}

// gain is what pumping leaves at an instant.
func (t *take) gain(at float64) float64 {
	if t.Pumping == 0 {
		return 1
	}
	i, _ := slices.BinarySearch(t.flashes, at)
	if i == 0 {
		return 1
	}
	since := at - t.flashes[i-1]
	if since < t.FlashS {
		return 1 - t.Pumping*min(since/0.1, 1)
	}
	return 1 - t.Pumping*math.Exp(-(since-t.FlashS)/0.15)
}

// expose returns the picture of the frame that begins at an instant.
func (t *take) expose(start float64, alpha []float64) []byte {
	out := make([]byte, Width*Height)
	duration := t.nominal
	fields := t.Scan != recording.Progressive
	if fields {
		duration /= 2
	}
	if t.CadenceFPS > 0 {
		duration = 1 / t.CadenceFPS
	}
	dx := int(math.Round(t.Shake * Width * t.rng.NormFloat64()))
	dy := int(math.Round(t.Shake*Height*t.rng.NormFloat64()/2)) * 2
	curve := t.curve(start + t.nominal/2)
	grain := 219 * t.Noise / 10
	at := int(t.rng.Uint32N(1 << 16))
	for y := range Height {
		middle := start + duration/2
		if fields && (y%2 == 1) == (t.Scan == recording.TopFirst) {
			middle += t.nominal / 2
		}
		middle += t.Rolling * t.nominal * ((float64(y)+0.5)/Height - 0.5)
		e := t.Exposure * duration
		light := t.lightOf(middle-e/2, middle+e/2)
		if t.Digital {
			light = math.Round(light)
		}
		sy := min(max(y+dy, 0), Height-1)
		for x := range Width {
			sx := min(max(x+dx, 0), Width-1)
			level := curve(alpha[sy*Width+sx]*light, x)
			if t.Bare { // the rim is mixed by scaling, after the camera's curve
				a := alpha[sy*Width+sx]
				level = a*curve(light, x) + (1-a)*curve(0, x)
			}
			if !t.Digital {
				level += grain * float64(t.noise[(at+y*Width+x)&(1<<17-1)])
			}
			out[y*Width+x] = byte(min(max(math.Round(level), 1), 254))
		}
	}
	return out
}

// steps of the table of the curve.
const steps = 1024

// curve returns grey level by share of flash light and column.
func (t *take) curve(at float64) func(share float64, x int) float64 {
	gain := t.gain(at)
	around := 0.05
	if t.Digital {
		around = 0
	}
	around *= 1 + t.Flicker*math.Sin(2*math.Pi*t.FlickerHz*at)
	if around == t.tableAround && gain == t.tableGain {
		return t.lookUp
	}
	t.tableAround, t.tableGain = around, gain
	table := &t.table
	for side := range 2 {
		for i := range table[side] {
			light := t.Dark + around*float64(side)*2 + t.Gain*float64(i)/steps
			if t.Digital {
				light = float64(i) / steps
			}
			table[side][i] = 16 + 219*t.code(gain*light)
		}
	}
	return t.lookUp
}

func (t *take) lookUp(share float64, x int) float64 {
	side := 0
	if x < Width/6 {
		side = 1
	}
	return t.table[side][int(min(max(share, 0), 1)*steps+0.5)]
}

// code is the camera's curve; what is above white is cut.
func (t *take) code(light float64) float64 {
	v := math.Pow(min(max(light, 0), 1), 1/t.Gamma)
	s := v * v * (3 - 2*v)
	return v + t.SCurve*(s-v)
}

// FullWidth and FullHeight are those of a frame to encode.
const (
	FullWidth  = 960
	FullHeight = 540
)

// FullFrame enlarges a small picture to a frame of grey levels to encode. Its
// even rows come from even rows, so that fields stay apart.
func FullFrame(picture []byte) []byte {
	out := make([]byte, 0, FullWidth*FullHeight)
	const columns, rows = FullWidth / Width, 2 * FullHeight / Height
	for r := range FullHeight {
		from := (2*(r/rows) + r%2) * Width
		for _, v := range picture[from : from+Width] {
			for range columns {
				out = append(out, v)
			}
		}
	}
	return out
}
