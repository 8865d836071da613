package recording

// A Method is how a recording was measured.
type Method string

// The methods, as in a measurement.
const (
	ByClip   Method = "clip"   // flashes and beeps of the card
	ByTracks Method = "tracks" // two tracks of one sound
)

// A Result is what an analysis says: numbers, or why there are none.
type Result struct {
	Method    Method                 `json:"method"`
	*Finding  `swaggerignore:"true"` // the first of Segments; nil if refused
	FrameRate string                 `json:"frame_rate,omitempty" validate:"optional"` // of the picture, an exact rate where it is one ("30000/1001"); empty without a picture
	DurationS float64                `json:"duration_s"`                               // of what was looked at
	Segments  []Finding              `json:"segments"`                                 // in order of time, then of track; empty if refused
	Flags     []Flag                 `json:"flags"`                                    // of the whole recording and of any segment, each once
	Warnings  []Warning              `json:"warnings"`                                 // the same flags in words, with what to do
	Refused   *Refusal               `json:"refused" extensions:"x-nullable"`          // nil: measured
	Evidence  *Evidence              `json:"-" extensions:"x-nullable"`                // for the picture; may be nil if refused
} //	@name	RecordingResult

// A Finding is the offset of one stretch of a recording and one of its tracks.
type Finding struct {
	FromS       float64    `json:"from_s"`    // the stretch
	ToS         float64    `json:"to_s"`      //
	OffsetMS    float64    `json:"offset_ms"` // clip: picture minus sound; tracks: first minus second. Positive: the (second) sound is early
	UMS         float64    `json:"u_ms"`      // standard uncertainty of this recording's offset
	This95      [2]float64 `json:"this95"`    // OffsetMS -+ 2 UMS
	EventSDMS   float64    `json:"event_sd_ms"`
	DriftPPM    *float64   `json:"drift_ppm" extensions:"x-nullable"`                                 // growth of the offset, microseconds a second; nil: not determined
	DriftUPPM   *float64   `json:"drift_u_ppm,omitempty" validate:"optional" extensions:"x-nullable"` // its standard uncertainty
	Sound       Track      `json:"sound"`                                                             // clip: the track with the beeps; tracks: the second
	First       *Track     `json:"first,omitempty" validate:"optional" extensions:"x-nullable"`       // tracks: the first
	ExposureMS  *float64   `json:"exposure_ms,omitempty" validate:"optional" extensions:"x-nullable"` // clip: how long the shutter was open, as found
	ToneHz      *float64   `json:"tone_hz,omitempty" validate:"optional" extensions:"x-nullable"`     // clip
	CardPPM     *float64   `json:"card_ppm,omitempty" validate:"optional" extensions:"x-nullable"`    // clip: how fast the card's clock ran against the recording's
	Inverted    bool       `json:"inverted,omitempty" validate:"optional"`                            // tracks: the polarity of one track is turned over
	Said        string     `json:"said"`                                                              // in words, without a sign: "sound early 166.9 ms"
	Events      []Event    `json:"events"`
	Flags       []Flag     `json:"flags"`
	FlashesSeen int        `json:"flashes_seen,omitempty" validate:"optional"`
	BeepsHeard  int        `json:"beeps_heard,omitempty" validate:"optional"`
} //	@name	Finding

// A Track is one channel of one stream of sound of one file.
type Track struct {
	File    int `json:"file"`    // 0: the first
	Stream  int `json:"stream"`  // among the streams of sound
	Channel int `json:"channel"` // 0: the first or left
} //	@name	Track

// An Event is one flash with its beep, or one window of two tracks.
type Event struct {
	AtS        float64 `json:"at_s"` // of the sound
	OffsetMS   float64 `json:"offset_ms"`
	UMS        float64 `json:"u_ms"`
	Confidence float64 `json:"confidence"` // 0 to 1: the weight it had in the fit
	Used       bool    `json:"used"`
} //	@name	RecordingEvent

// A Refusal says why there is no number and what the technician should do.
type Refusal struct {
	Code RefusalCode `json:"code"`
	Text string      `json:"text"` // what is wrong, one sentence
	Try  string      `json:"try"`  // what to do, one sentence
} //	@name	Refusal

// A Warning is a flag in words.
type Warning struct {
	Code Flag   `json:"code"`
	Text string `json:"text"`
	Try  string `json:"try"`
} //	@name	Warning

// Evidence is enough to draw the picture of a result again after the file is
// deleted: two curves on one axis.
type Evidence struct {
	FromS  float64 `json:"from_s"`
	Light  *Series `json:"light,omitempty" validate:"optional" extensions:"x-nullable"`  // of the flash area, 0 dark to 1 lit; clip
	Sound  *Series `json:"sound,omitempty" validate:"optional" extensions:"x-nullable"`  // envelope of the tone or of the second track, 0 to 1
	Second *Series `json:"second,omitempty" validate:"optional" extensions:"x-nullable"` // tracks: envelope of the first track
} //	@name	RecordingEvidence

// A Series is equally spaced values, each to 1/255.
type Series struct {
	StepS  float64 `json:"step_s"`
	Values []byte  `json:"values" swaggertype:"string" format:"base64"` // 0 to 255 for 0 to 1; base64 in JSON
} //	@name	Series
