package tracks_test

import (
	"math"
	"testing"

	"delaybook/domain/recording"
	"delaybook/domain/tracks"
	"delaybook/domain/tracks/tracktest"
)

func TestRefusals(t *testing.T) {
	t.Parallel()
	const n = 6 * rate
	r := seeded(9)
	speech, other := tracktest.Speech(r, n), tracktest.Speech(r, n)
	tone, hum := tracktest.Tone(1000, n), tracktest.Hum(r, n)
	noisyTone := [2][]float64{tracktest.Add(r, tone, 30), tracktest.Add(r, tracktest.Delay(tone, 0.1), 30)}
	noisyHum := [2][]float64{tracktest.Add(r, hum, 40), tracktest.Add(r, tracktest.Delay(hum, 0.1), 40)}
	echoed := tracktest.Scale(speech)
	for i, v := range tracktest.Delay(tracktest.Scale(speech), 0.02) {
		echoed[i] += v
	}
	long := tracktest.Speech(r, 16*rate)
	cut := tracktest.Delay(long, 0.4)
	copy(cut[:8*rate], tracktest.Delay(long, 0.1))
	broken := track(0, speech)
	broken.Sound.Channels[0][7000] = float32(math.NaN())
	slow := track(0, speech)
	slow.Sound.Rate = 100
	missing := track(0, speech)
	missing.Channel = 1
	late := track(0, speech)
	late.Sound.StartS = 5
	cases := map[string]struct {
		first, second tracks.Track
		want          recording.RefusalCode
	}{
		"tone":              {track(0, noisyTone[0]), track(1, noisyTone[1]), recording.Tonal},
		"pure tone":         {track(0, tone), track(1, tracktest.Delay(tone, 0.1)), recording.Tonal},
		"hum":               {track(0, noisyHum[0]), track(1, noisyHum[1]), recording.Tonal},
		"hum without noise": {track(0, hum), track(1, tracktest.Delay(hum, 0.1)), recording.Tonal},
		"tone on one side":  {track(0, speech), track(1, noisyTone[1]), recording.Tonal},
		"silence":           {track(0, speech), track(1, make([]float64, n)), recording.Silent},
		"another voice":     {track(0, speech), track(1, other), recording.Unrelated},
		"noise":             {track(0, tracktest.Noise(r, n)), track(1, tracktest.Noise(r, n)), recording.Unrelated},
		"echo":              {track(0, tracktest.Add(r, echoed, 20)), track(1, speech), recording.Echo},
		"cut":               {track(0, tracktest.Add(r, cut, 20)), track(1, long), recording.Jumps},
		"too short":         {track(0, speech[:rate]), track(1, speech), recording.TooShort},
		"nothing in common": {late, track(1, speech), recording.TooShort},
		"empty":             {track(0, nil), track(1, nil), recording.TooShort},
		"not numbers":       {broken, track(1, speech), recording.Unreadable},
		"100 samples/s":     {slow, track(1, speech), recording.Unreadable},
		"no such channel":   {missing, track(1, speech), recording.OneTrack},
		"no sound whatever": {tracks.Track{}, tracks.Track{}, recording.OneTrack},
		"more than 2 s":     {track(0, append(make([]float64, 5*rate), speech...)), track(1, append(speech, make([]float64, 5*rate)...)), recording.Unrelated},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got := tracks.Compare(c.first, c.second)
			if got.Refused == nil {
				t.Fatalf("measured %+v", got.Finding)
			}
			if got.Refused.Code != c.want || got.Refused.Text == "" || got.Refused.Try == "" || got.Finding != nil || len(got.Segments) > 0 {
				t.Errorf("want %s: %+v", c.want, got.Refused)
			}
		})
	}
}
