package tracks_test

import (
	"strings"
	"testing"

	"delaybook/domain/recording"
	"delaybook/domain/tracks"
	"delaybook/domain/tracks/tracktest"

	"github.com/google/go-cmp/cmp"
)

func TestPick(t *testing.T) {
	t.Parallel()
	r := seeded(4)
	a, b := tracktest.Samples(tracktest.Noise(r, 1000)), tracktest.Samples(tracktest.Noise(r, 1000))
	silence, turned, tone := make([]float32, 1000), make([]float32, 1000), tracktest.Samples(tracktest.Tone(1000, 6*rate))
	for i, v := range a {
		turned[i] = -v / 2
	}
	stream := func(index int, channels ...[]float32) recording.Sound {
		return recording.Sound{Stream: index, Rate: rate, Channels: channels}
	}
	file := func(sounds ...recording.Sound) *recording.Recording { return &recording.Recording{Sounds: sounds} }
	at := func(file, stream, channel int) *recording.Track {
		return &recording.Track{File: file, Stream: stream, Channel: channel}
	}
	type recs = []*recording.Recording
	cases := map[string]struct {
		recs          recs
		o             tracks.Options
		first, second *recording.Track
		refused       recording.RefusalCode
		says          string
	}{
		"two channels":       {recs: recs{file(stream(0, a, b))}, first: at(0, 0, 0), second: at(0, 0, 1)},
		"a silent one first": {recs: recs{file(stream(0, silence, a, b))}, first: at(0, 0, 1), second: at(0, 0, 2)},
		"two streams":        {recs: recs{file(stream(0, a, a), stream(1, b))}, first: at(0, 0, 0), second: at(0, 1, 0)},
		"streams first":      {recs: recs{file(stream(0, a, b), stream(1, b))}, first: at(0, 0, 0), second: at(0, 1, 0)},
		"two files":          {recs: recs{file(stream(0, silence, a)), file(stream(0, b))}, first: at(0, 0, 1), second: at(1, 0, 0)},
		"equal files":        {recs: recs{file(stream(0, a)), file(stream(0, a))}, first: at(0, 0, 0), second: at(1, 0, 0)},
		"named":              {recs: recs{file(stream(0, a, b))}, o: tracks.Options{First: at(0, 0, 1)}, first: at(0, 0, 1), second: at(0, 0, 0)},
		"named the other":    {recs: recs{file(stream(0, a)), file(stream(0, b))}, o: tracks.Options{First: at(1, 0, 0)}, first: at(1, 0, 0), second: at(0, 0, 0)},
		"both named":         {recs: recs{file(stream(0, a, silence, b))}, o: tracks.Options{First: at(0, 0, 2), Second: at(0, 0, 0)}, first: at(0, 0, 2), second: at(0, 0, 0)},
		"copies":             {recs: recs{file(stream(0, a, a))}, refused: recording.OneTrack, says: "copies"},
		"turned over":        {recs: recs{file(stream(0, a, turned))}, refused: recording.OneTrack, says: "copies"},
		"named copies":       {recs: recs{file(stream(0, a, a))}, o: tracks.Options{First: at(0, 0, 1), Second: at(0, 0, 0)}, refused: recording.OneTrack, says: "copies"},
		"named twice":        {recs: recs{file(stream(0, a, b))}, o: tracks.Options{First: at(0, 0, 1), Second: at(0, 0, 1)}, refused: recording.OneTrack, says: "copies"},
		"mono":               {recs: recs{file(stream(0, a))}, refused: recording.OneTrack, says: "one channel"},
		"one silent":         {recs: recs{file(stream(0, a, silence))}, refused: recording.Silent, says: "2 channels"},
		"a tone twice":       {recs: recs{file(stream(0, tone, tone))}, refused: recording.Tonal},
		"all silent":         {recs: recs{file(stream(0, silence))}, refused: recording.Silent},
		"second file silent": {recs: recs{file(stream(0, a)), file(stream(0, silence))}, refused: recording.Silent, says: "second file"},
		"no sound":           {recs: recs{file(stream(0, a)), file()}, refused: recording.NoAudio, says: "second file"},
		"no recording":       {recs: recs{nil}, refused: recording.NoAudio},
		"no files":           {refused: recording.OneTrack},
		"three files":        {recs: recs{file(), file(), file()}, refused: recording.OneTrack, says: "there are 3"},
		"no such name":       {recs: recs{file(stream(0, a, b))}, o: tracks.Options{Second: at(0, 1, 0)}, refused: recording.OneTrack, says: "stream 2"},
		"no such file":       {recs: recs{file(stream(0, a, b))}, o: tracks.Options{First: at(1, 0, 0)}, refused: recording.OneTrack, says: "file 2"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			first, second, refusal := tracks.Pick(c.recs, c.o)
			if refusal != nil || c.refused != "" {
				if refusal == nil || refusal.Code != c.refused || !strings.Contains(refusal.Text, c.says) {
					t.Fatalf("refused %+v, want %q saying %q", refusal, c.refused, c.says)
				}
				return
			}
			if diff := cmp.Diff([]*recording.Track{c.first, c.second}, []*recording.Track{&first.Ref, &second.Ref}); diff != "" {
				t.Error(diff)
			}
		})
	}
}
