package card

import "math"

// Levels of luma as coded with limited range (Rec. ITU-R BT.709-6, item 4.6).
const (
	Black = 16
	White = 235
	grey  = 90 // marks that never change: seen, and far from white
)

// A Rectangle is a part of a picture: columns X to X+Width, rows Y to Y+Height.
type Rectangle struct{ X, Y, Width, Height int }

// Area returns the part that flashes: centred, as wide for its height as the
// picture, with AreaShare of its area. Its edges are even, so that they fall
// between samples of colour too.
func Area(width, height int) Rectangle {
	side := math.Sqrt(AreaShare)
	w, h := nearestInset(width, side), nearestInset(height, side)
	return Rectangle{X: (width - w) / 2, Y: (height - h) / 2, Width: w, Height: h}
}

// nearestInset returns the length nearest to share of whole whose two margins are
// even.
func nearestInset(whole int, share float64) int {
	return whole - 4*int(math.Round(float64(whole)*(1-share)/4))
}

// Luma returns a picture of the card, row by row: the area dark or lit, corner
// marks to frame and focus a camera by, and the rate in figures at the bottom.
// width is 160 or more and height 90 or more, both multiples of 4; others are
// an empty picture. Only the area differs between dark and lit.
func (f *File) Luma(width, height int, lit bool) []byte {
	if width < 160 || height < 90 || width%4 != 0 || height%2 != 0 {
		return nil
	}
	p := picture{width, make([]byte, width*height)}
	p.fill(Rectangle{0, 0, width, height}, Black)
	area := Area(width, height)
	u := width / 160 // what is drawn beside the area is a whole number of these
	p.corners(area, u)
	label := f.Rate.Label()
	p.figures(label, (width-figuresWidth(label)*u)/2, area.Y+area.Height+4*u, u)
	if lit {
		p.fill(area, White)
	}
	return p.luma
}

type picture struct {
	width int
	luma  []byte
}

func (p picture) fill(r Rectangle, value byte) {
	for y := r.Y; y < r.Y+r.Height; y++ {
		row := p.luma[y*p.width+r.X:][:r.Width]
		for x := range row {
			row[x] = value
		}
	}
}

// corners draws an angle at each corner of the area, outside it.
func (p picture) corners(area Rectangle, u int) {
	const arm, away = 8, 2 // in units
	for _, right := range []bool{false, true} {
		for _, bottom := range []bool{false, true} {
			x, y := area.X-(away+1)*u, area.Y-(away+1)*u
			across, down := x, y
			if right {
				x = area.X + area.Width + away*u
				across = x - (arm-1)*u
			}
			if bottom {
				y = area.Y + area.Height + away*u
				down = y - (arm-1)*u
			}
			p.fill(Rectangle{across, y, arm * u, u}, grey)
			p.fill(Rectangle{x, down, u, arm * u}, grey)
		}
	}
}

// shapes are figures of 3 by 5 cells, a row an octal digit, top first.
var shapes = map[rune][5]int{
	'0': {7, 5, 5, 5, 7}, '1': {2, 6, 2, 2, 7}, '2': {7, 1, 7, 4, 7}, '3': {7, 1, 7, 1, 7}, '4': {5, 5, 7, 1, 1},
	'5': {7, 4, 7, 1, 7}, '6': {7, 4, 7, 5, 7}, '7': {7, 1, 1, 1, 1}, '8': {7, 5, 7, 5, 7}, '9': {7, 5, 7, 1, 7},
	'.': {0, 0, 0, 0, 2}, '/': {1, 1, 2, 4, 4},
}

// figuresWidth is how many units a text takes.
func figuresWidth(text string) int { return 4*len(text) - 1 }

func (p picture) figures(text string, x, y, u int) {
	for i, c := range text {
		for row, cells := range shapes[c] {
			for column := range 3 {
				if cells>>(2-column)&1 == 1 {
					p.fill(Rectangle{x + (4*i+column)*u, y + row*u, u, u}, grey)
				}
			}
		}
	}
}
