package decoder

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestSniff(t *testing.T) {
	t.Parallel()
	packets := bytes.Repeat(append([]byte{0x47}, make([]byte, 187)...), 3)
	for _, c := range []struct{ head, want string }{
		{"\x00\x00\x00\x18ftypmp42", "mov"},
		{"\x00\x00\x00\x08wide\x00\x00\x00\x00mdat", "mov"},
		{"\x00\x00\x00\x03ftypmp42", ""}, // a box smaller than its head
		{"\x1a\x45\xdf\xa3", "matroska"},
		{"RIFF\x00\x00\x00\x00AVI LIST", "avi"},
		{"RIFF\x00\x00\x00\x00WAVEfmt ", "wav"},
		{"RF64\xff\xff\xff\xffWAVE", "wav"},
		{"RIFF\x00\x00\x00\x00WEBP", ""},
		{string(packets), "mpegts"},
		{string(append(make([]byte, 4), bytes.Repeat(append([]byte{0x47}, make([]byte, 191)...), 3)...)), "mpegts"},
		{string(packets[:300]), ""},
		{"\x06\x0e\x2b\x34\x02\x05\x01\x01\x0d\x01\x02\x01", "mxf"},
		{"OggS", "ogg"},
		{"fLaC", "flac"},
		{"FLV\x01", "flv"},
		{"FORM\x00\x00\x00\x00AIFF", "aiff"},
		{"ID3\x04", "mp3"},
		{"\xff\xfb\x90", "mp3"},
		{"\xff\xfe\x00", ""},
		{"\x00\x00\x01\xba", "mpeg"},
		{"ffconcat version 1.0", ""},
		{"#EXTM3U", ""},
		{"\x89PNG", ""},
		{"", ""},
	} {
		if got, ok := sniff([]byte(c.head)); got != c.want || ok != (c.want != "") {
			t.Errorf("%.20q is %q, want %q", c.head, got, c.want)
		}
	}
}

func box(name, content string) string {
	n := len(content) + 8
	return string([]byte{byte(n >> 24), byte(n >> 16), byte(n >> 8), byte(n)}) + name + content
}

func TestMovieHeader(t *testing.T) {
	t.Parallel()
	header := box("mvhd", "\x00\x00\x00\x00"+"cccc"+"mmmm"+"\x00\x00\x02\x58"+strings.Repeat("\x00", 80))
	// Version 1 has times of 8 bytes.
	wide := box("mvhd", "\x01\x00\x00\x00"+"cccccccc"+"mmmmmmmm"+"\x00\x01\x5f\x90"+strings.Repeat("\x00", 80))
	empty := box("elst", "\x00\x00\x00\x00\x00\x00\x00\x02"+"\x00\x00\x01\x5c\xff\xff\xff\xff\x00\x01\x00\x00"+"\x00\x00\x10\x00\x00\x00\x00\x00\x00\x01\x00\x00")
	for _, c := range []struct {
		name, file string
		want       movie
	}{
		{"plain", box("ftyp", "isom") + box("moov", header), movie{timeScale: 600}},
		{"version 1", box("moov", wide), movie{timeScale: 90000}},
		{"late start", box("mdat", "xx") + box("moov", header+box("trak", box("edts", empty))), movie{timeScale: 600, delayed: true, pieces: 1}},
		{"cut off", box("moov", header)[:40], movie{}},
		{"nothing", "", movie{}},
	} {
		got, err := readMovie(strings.NewReader(c.file), int64(len(c.file)))
		if diff := cmp.Diff(c.want, got, cmp.AllowUnexported(movie{})); err != nil || diff != "" {
			t.Errorf("%s: error %v (-want +got):\n%s", c.name, err, diff)
		}
	}
	many := strings.Repeat(box("free", ""), maxBoxes+1)
	if _, err := readMovie(strings.NewReader(many), int64(len(many))); err == nil {
		t.Error("a file of empty boxes only is walked to its end")
	}
}

func TestStamps(t *testing.T) {
	t.Parallel()
	const text = "#tb 0: 1/90000\n#media_type 0: video\n0, 0, 3003, 3003, 100, 0x1\nnoise\n1, 0, 5, 5, 5, 0x2\n" +
		"0, -9223372036854775808, -9223372036854775808, 0, 7, 0x3\n0, x, y, z, 1, 2\n"
	var got []stamp
	err := stamps(strings.NewReader(text), func(stream int, s stamp) error {
		got = append(got, s)
		return nil
	})
	if err != nil || len(got) != 3 || got[0] != (stamp{3003.0 / 90000, 3003, 100}) || !math.IsNaN(got[1].at) || !math.IsNaN(got[2].at) {
		t.Errorf("stamps %+v with error %v, want one at 3003/90000 and two without a time", got, err)
	}
}

// FuzzBlocks feeds anything to the reader of the decoder's output: it ends, and never with more than it was given.
func FuzzBlocks(f *testing.F) {
	f.Add([]byte("\x1a\x45\xdf\xa3\x80\x18\x53\x80\x67\x01\xff\xff\xff\xff\xff\xff\xff\x1f\x43\xb6\x75\x8a\xa3\x86\x81\x00\x00\x80ab"))
	f.Add([]byte("\xa3\xff"))
	f.Fuzz(func(t *testing.T, in []byte) {
		total := 0
		_ = blocks(bytes.NewReader(in), func(stream int, content []byte) error {
			total += len(content)
			return nil
		})
		if total > len(in) {
			t.Errorf("%d bytes of content from %d", total, len(in))
		}
	})
}

// FuzzMovie feeds anything to the reader of boxes.
func FuzzMovie(f *testing.F) {
	f.Add([]byte(box("moov", box("trak", box("edts", box("elst", "\x00\x00\x00\x00\x00\x00\x00\x01aaaabbbbcccc"))))))
	f.Fuzz(func(t *testing.T, in []byte) {
		m, err := readMovie(bytes.NewReader(in), int64(len(in)))
		if err == nil && m.pieces > len(in)/12 {
			t.Errorf("%d pieces in %d bytes", m.pieces, len(in))
		}
	})
}
