// Package recording holds what a decoder makes of a recording and what an
// analysis says of it. The analyses are packages clip and tracks; the decoder is
// a program of its own, because it is not to be trusted with more than one file.
//
// All instants are seconds on one axis: the presentation time of the file, on
// which its picture and its sound are in step. A frame with time stamp t and
// nominal period T stands for the instant t + T/2, and its exposure is taken as
// centred there.
package recording

// A Recording is what was decoded of one file, or of its beginning.
type Recording struct {
	Container  string  // as sniffed: "mov", "matroska", "avi", "mpegts", "wav", ...
	DurationS  float64 // as the file says; 0: it does not say
	DecodedS   float64 // how much of it was decoded
	StampStepS float64 // to what the container rounds the start of a track; 0: exact enough not to matter
	Video      *Video  // nil: no picture
	Sounds     []Sound // one a stream of sound, in the file's order
	Flags      []Flag  // what decoding noticed
}

// A Video is the light of each frame, as small grey pictures in the order of
// presentation.
//
// Even rows of a picture come from even rows of the frame, odd rows from odd
// ones, so that the fields of an interlaced frame stay apart: of H rows the even
// ones are a picture of the top field with H/2 rows.
type Video struct {
	Codec                     string
	SourceWidth, SourceHeight int     // of the frames in the file
	Width, Height             int     // of each picture; Height is even
	Scan                      Scan    // as the file says
	NominalFPS                float64 // as the file says; 0: it does not. The time stamps decide
	PTS                       []float64
	Luma                      []byte // len(PTS) pictures of Width*Height, row by row, as coded: 16 is black, 235 white unless FullRange
	FullRange                 bool   // 0 is black, 255 white
}

// Picture returns the luma of frame i.
func (v *Video) Picture(i int) []byte {
	n := v.Width * v.Height
	return v.Luma[i*n : (i+1)*n]
}

// A Scan says how the rows of a frame were exposed.
type Scan string

// The scans. Material shot progressive and carried interlaced (PsF) says that
// it is interlaced: only the picture tells.
const (
	Progressive Scan = "progressive"
	TopFirst    Scan = "top-field-first"
	BottomFirst Scan = "bottom-field-first"
)

// A Sound is one stream of sound with its channels apart: a pair of inverted
// phase would cancel in their sum.
type Sound struct {
	Stream   int // index among the file's streams of sound
	Codec    string
	Rate     int         // samples a second
	StartS   float64     // instant of the first sample
	Channels [][]float32 // equally long, -1 to 1
}

// EndS is the instant after the last sample.
func (s *Sound) EndS() float64 {
	if len(s.Channels) == 0 || s.Rate == 0 {
		return s.StartS
	}
	return s.StartS + float64(len(s.Channels[0]))/float64(s.Rate)
}
