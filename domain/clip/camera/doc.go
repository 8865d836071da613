// Package camera simulates recordings of the flash-and-beep card, for tests: a
// camera with shutter, rolling rows, curve, noise and faults, in a room with
// noise and reverberation. All chance comes from the seed of a [Scene].
//
// It shares with package clip the model of a shutter as a box and nothing else;
// the conditions that no box explains (curve, gain that follows the flash,
// overexposure, display jitter) are there to show what that costs.
package camera
