// Package tracks measures the delay between two sound tracks of one event: a
// desk feed and a camera microphone, two microphones, two recordings started
// together. Any sound with a wide spectrum will do: speech, music, claps.
//
// The method is the generalised cross-correlation with phase weighting (Knapp
// and Carter, IEEE Trans. ASSP-24 (1976) 320-327, DOI
// 10.1109/TASSP.1976.1162830). The two tracks are brought onto one axis of time,
// a search finds the line that the delay follows through the recording, the
// second track is moved and stretched onto it, and what is left is measured in
// windows. TRACKS.md says how well that works and where it does not.
//
// Internally delays are seconds and positive where the first track is late.
package tracks
