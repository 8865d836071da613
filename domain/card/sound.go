package card

import "math"

// Beep returns the samples of one beep at SampleRate, -1 to 1.
func Beep() []float64 {
	const (
		length = BeepMS * SampleRate / 1000
		attack = AttackMS * SampleRate / 1000
		decay  = DecayMS * SampleRate / 1000
		period = SampleRate / ToneHz
	)
	peak := math.Pow(10, LevelDBFS/20.0)
	samples := make([]float64, length)
	for n := range samples {
		envelope := min(1, float64(n)/attack, float64(length-n)/decay)
		samples[n] = peak * envelope * math.Sin(2*math.Pi*float64(n%period)/period)
	}
	return samples
}

// Sound returns the sound of the whole file: one channel of 16-bit samples at
// SampleRate, digital silence between beeps.
func (f *File) Sound() []int16 {
	sound := make([]int16, f.Samples)
	beep := Beep()
	for _, e := range f.Events {
		for n, x := range beep {
			sound[e.Sample+int64(n)] = int16(math.RoundToEven(x * 32768)) // the peak is far below full scale
		}
	}
	return sound
}
