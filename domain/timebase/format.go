package timebase

import (
	"fmt"
	"strconv"
	"strings"
)

// A Scan says how the lines of a frame are taken and carried.
type Scan string

// The scans. A PsF (progressive segmented frame) is taken at once and carried as
// two halves, like the fields of an interlaced frame.
const (
	Progressive Scan = "progressive"
	Interlaced  Scan = "interlaced"
	PsF         Scan = "psf"
)

// letter is what stands between lines and number in the name of a format.
func (s Scan) letter() string {
	switch s {
	case Interlaced:
		return "i"
	case PsF:
		return "PsF"
	}
	return "p"
}

// ParseScan reads "progressive", "interlaced" or "psf", in any case. The error
// is an *InputError.
func ParseScan(s string) (Scan, error) {
	switch scan := Scan(strings.ToLower(strings.TrimSpace(s))); scan {
	case Progressive, Interlaced, PsF:
		return scan, nil
	}
	return "", inputError(s, "not a scan", `"progressive", "interlaced" or "psf"`)
}

// A Format is a picture format. The zero Format is not valid.
type Format struct {
	Lines int  // visible lines of the raster: 1080
	Scan  Scan // how they are taken
	Rate  Rate // whole frames per second, also where the scan is interlaced
}

// IsZero reports whether f is the zero Format, which is not valid.
func (f Format) IsZero() bool { return f == Format{} }

// String returns the customary name, in which the number counts fields if the
// scan is interlaced, else frames: "1080i59.94", "1080p29.97", "1080PsF25". It
// returns "" for the zero Format. ParseFormat reads it back.
func (f Format) String() string {
	if f.IsZero() {
		return ""
	}
	named := f.Rate
	if f.Scan == Interlaced {
		named = f.Rate.double()
	}
	return strconv.Itoa(f.Lines) + f.Scan.letter() + named.Label()
}

const (
	minLines  = 120
	maxLines  = 8640
	anyFormat = `a format like "1080i59.94", "1080p29.97" or "1080PsF25"`
)

// ParseFormat reads the customary name of a picture format: lines, a letter
// ("i", "p" or "PsF", in any case, a slash may follow), and a number that
// ParseRate can read. After "i" the number counts fields, so 1080i59.94 has
// 30000/1001 frames per second; after "p" and "PsF" it counts frames. The error
// is an *InputError.
//
// An "i" with 30 or fewer is refused: 1080i29.97 may be meant as 29.97 frames or,
// by the rule, as 14.985. The error names the format that is meant.
func ParseFormat(s string) (Format, error) {
	text := strings.TrimSpace(s)
	at := strings.IndexFunc(text, func(c rune) bool { return c < '0' || c > '9' })
	if at < 1 {
		return Format{}, inputError(text, "not a picture format", anyFormat)
	}
	lines, err := strconv.Atoi(text[:at])
	if err != nil || lines < minLines || lines > maxLines {
		return Format{}, inputError(text, "a picture has 120 to 8640 lines", anyFormat)
	}
	scan, number, ok := cutScan(text[at:])
	if !ok {
		return Format{}, inputError(text, `"i", "p" or "PsF" is missing after the lines`, anyFormat)
	}
	named, err := ParseRate(number)
	if err != nil {
		return Format{}, fmt.Errorf("picture format %.40q: %w", text, err)
	}
	rate := named
	if scan == Interlaced {
		if rate, err = framesOfFields(text, lines, named); err != nil {
			return Format{}, err
		}
	}
	if err := CheckScan(scan, rate); err != nil {
		return Format{}, fmt.Errorf("picture format %.40q: %w", text, err)
	}
	return Format{Lines: lines, Scan: scan, Rate: rate}, nil
}

func cutScan(s string) (scan Scan, number string, ok bool) {
	for _, scan := range []Scan{PsF, Progressive, Interlaced} { // PsF first: it begins with p
		letter := scan.letter()
		if len(s) > len(letter) && strings.EqualFold(s[:len(letter)], letter) {
			return scan, strings.TrimPrefix(s[len(letter):], "/"), true
		}
	}
	return "", "", false
}

// framesOfFields returns the frame rate of an interlaced format whose name gives
// the given fields per second.
func framesOfFields(text string, lines int, fields Rate) (Rate, error) {
	if fields.Cmp(maxInterlaced) <= 0 {
		return Rate{}, inputError(text, "the number of an interlaced format counts fields, two a frame",
			fmt.Sprintf("%q if there are %s frames per second", Format{lines, Interlaced, fields}, fields.Label()))
	}
	frames, err := NewRate(fields.num, 2*fields.den)
	if err != nil || frames.Cmp(maxInterlaced) > 0 {
		return Rate{}, inputError(text, "no interlaced format has more than 60 fields per second",
			`"i50", "i59.94" or "i60", or "p" if whole frames are meant`)
	}
	return frames, nil
}

// double returns twice r. Rates of interlaced formats are far from the bounds.
func (r Rate) double() Rate {
	if r.den%2 == 0 {
		return Rate{r.num, r.den / 2}
	}
	return Rate{2 * r.num, r.den}
}
