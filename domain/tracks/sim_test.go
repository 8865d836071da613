package tracks_test

import (
	"math/rand/v2"

	"delaybook/domain/recording"
	"delaybook/domain/tracks"
	"delaybook/domain/tracks/tracktest"
)

const rate = tracktest.Rate

type source struct {
	name string
	make func(*rand.Rand, int) []float64
}

var sources = []source{
	{"speech", tracktest.Speech},
	{"music", tracktest.Music},
	{"claps", tracktest.Claps},
}

func seeded(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 17)) }

// track makes a mono track of x in file i.
func track(file int, x []float64) tracks.Track {
	return tracks.Track{
		Sound: recording.Sound{Codec: "pcm_f32le", Rate: rate, Channels: [][]float32{tracktest.Samples(x)}},
		Ref:   recording.Track{File: file},
	}
}
