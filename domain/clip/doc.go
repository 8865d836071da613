// Package clip measures the offset between picture and sound in a recording of
// the flash-and-beep card. It decodes nothing: a [recording.Recording] goes in
// and a [recording.Result] comes out. CLIP.md says how well it was found to do.
//
// # Pipeline
//
//  1. Sound: tone bursts of every channel, each onset by least squares of the
//     known attack (tone.go, beep.go, onset.go).
//  2. Picture: steps of light in blocks of the picture, then for every flash the
//     share of light in the frames or fields round its onset (flash.go, light.go).
//  3. Rows: whether fields are apart in time, in which order, and how fast a
//     rolling shutter reads (rows.go).
//  4. Pairing: the one offset that joins most flashes and beeps, or a refusal
//     (pair.go).
//  5. Fit: all events share offset, drift and exposure time; what is not known is
//     integrated over (fit.go, posterior.go, drift.go).
//
// # Convention
//
// A frame with time stamp t and period T stands for t + T/2 and its exposure is
// taken as centred there, at rows of mid picture height. Of an interlaced frame
// the first field stands for t + T/4, the second for t + 3T/4. Offsets are
// picture minus sound: positive when the sound is early, which is the sign of
// Rec. ITU-R BT.1359-1.
//
// # Units
//
// Instants and durations are seconds inside and where a name ends in S,
// milliseconds where it ends in MS. The package imports the standard library,
// gonum and packages timebase and recording only.
package clip
