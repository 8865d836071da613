package limits

const (
	bt1359 = "Rec. ITU-R BT.1359-1 (11/1998)"
	r37    = "EBU R37-2007"
	is191  = "ATSC Doc. IS-191 (26 June 2003)"

	second = ", read second-hand"
)

// film24MS is one frame of film at 24 frames per second.
const film24MS = 1000.0 / 24

// published is grouped by body. A figure that was seen neither in the body's own
// text nor in a text that quotes it is left out.
var published = []Limit{
	{
		Slug: "itu-bt1359-detectable", Name: "ITU-R BT.1359-1, detectable", EarlyMS: 45, LateMS: 125,
		Source: bt1359 + ", considering g) and Appendix 1, 3: impairment grade 4.5",
		Where:  "what a viewer sees and hears", Published: true,
	},
	{
		Slug: "itu-bt1359-acceptable", Name: "ITU-R BT.1359-1, acceptable", EarlyMS: 90, LateMS: 185,
		Source: bt1359 + ", recommends 2: impairment grade 3.5, shall not be exceeded",
		Where:  "the whole way from the source to the viewer", Published: true,
	},
	{
		Slug: "itu-bt1359-selection", Name: "ITU-R BT.1359-1, to programme selection", EarlyMS: 25, LateMS: 100,
		Source: bt1359 + ", recommends 3" + second,
		Where:  "from the picture source to the final programme selection", Published: true,
	},
	{
		Slug: "itu-bt1359-transmitter", Name: "ITU-R BT.1359-1, to the transmitter", EarlyMS: 22.5, LateMS: 30,
		Source: bt1359 + ", recommends 4" + second,
		Where:  "from programme selection to the transmitter's input", Published: true,
	},
	{
		Slug: "itu-bt1359-segment", Name: "ITU-R BT.1359-1, further segment", EarlyMS: 2, LateMS: 2,
		Source: bt1359 + ", recommends 5" + second,
		Where:  "each further segment that is not the broadcaster's", Published: true,
	},
	{
		Slug: Default, Name: "EBU R37, output", EarlyMS: 40, LateMS: 60,
		Source: r37 + ", Table 1" + second,
		Where:  "an output meant for emission, end to end", Published: true,
	},
	{
		Slug: "ebu-r37-stage", Name: "EBU R37, one stage", EarlyMS: 5, LateMS: 15,
		Source: r37 + ", text" + second,
		Where:  "each stage of production", Published: true,
	},
	{
		Slug: "atsc-is191", Name: "ATSC IS-191, encoder input", EarlyMS: 15, LateMS: 45,
		Source: is191 + second,
		Where:  "the inputs of an encoder for emission", Published: true,
	},
	{
		Slug: "atsc-is191-receiver", Name: "ATSC IS-191, receiver", EarlyMS: 15, LateMS: 15,
		Source: is191 + second,
		Where:  "a receiver, against its presentation time stamps", Published: true,
	},
	{
		Slug: "itu-j100", Name: "ITU-T J.100, international exchange", EarlyMS: 20, LateMS: 40,
		Source: "Rec. ITU-T J.100 (06/1990)" + second + " in one place only",
		Where:  "vision and sound of an international exchange", Published: true,
	},
	{
		Slug: "en-301549-voice", Name: "EN 301 549, voice with video", EarlyMS: 100, LateMS: 100,
		Source: "EN 301 549, 6.5.4" + second + "; the clause gives a magnitude without a sign",
		Where:  "two-way voice with live video", Published: true,
	},
	{
		Slug: "film-half-frame", Name: "Film, half a frame", EarlyMS: film24MS / 2, LateMS: film24MS / 2,
		Source: "Rec. ITU-R BR.265 as cited in " + bt1359 + ", Appendix 1" + second,
		Where:  "exchange of film, 24 frames per second", Published: true,
	},
	{
		Slug: "film-itu-bs1204", Name: "ITU-R BS.1204, film", EarlyMS: film24MS, LateMS: 2 * film24MS,
		Source: "Report ITU-R BS.1204 (1990), introduction: picture may lead by two frames and lag by one; read in its abstract",
		Where:  "film, 24 frames per second", Published: true,
	},
}

// Published returns the limits that published bodies state, in a fixed order.
// The caller owns the slice.
func Published() []Limit { return append([]Limit(nil), published...) }

// BySlug returns a published limit, and false if there is none of that slug.
func BySlug(slug string) (Limit, bool) {
	for _, l := range published {
		if l.Slug == slug {
			return l, true
		}
	}
	return Limit{}, false
}
