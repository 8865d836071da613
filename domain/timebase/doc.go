// Package timebase holds exact frame rates and sample rates and the arithmetic
// between frames, milliseconds and samples, picture formats and time code.
//
// It knows nothing of measurements, rigs or limits. It imports the standard
// library only.
//
// # Why exact
//
// The rates called 29.97 and 59.94 are 30000/1001 and 60000/1001 frames per
// second. The decimal 29.97 is smaller by exactly one part in a million, which
// is 3.6 ms in an hour, and 30 is larger by one part in a thousand, which is
// 0.1667 ms in five frames. A Rate is therefore a reduced fraction and a
// decimal other than the customary labels is refused, not rounded.
//
// # Units
//
// Durations are milliseconds. As float64 they are the exact value rounded once,
// to nearest even; as *big.Rat they are exact and belong to the caller; as Ticks
// they are integers of 1/705600 ms.
//
// # What a tick holds exactly
//
// 705600 = 2^6 * 3^2 * 5^2 * 7^2, so a tick divides: 1 ms and 0.01 ms (7056
// ticks), but not 0.001 ms (705.6); one sample at 8, 11.025, 12, 16, 22.05, 24,
// 32, 44.1, 48, 88.2, 96, 176.4, 192 and 352.8 kHz, but not at 384 kHz (1837.5
// ticks); one frame and half a frame at 23.976, 24, 25, 29.97, 30, 47.952, 48,
// 50, 59.94, 60, 100, 119.88 and 120 frames per second. RoundTicks takes
// anything else to the nearest tick, which is at most 0.71 ns away, and
// ExactTicks refuses it.
//
// # Sources
//
// Rates: Recommendations ITU-R BT.709-6 and BT.2020-2 list 24/1.001, 24, 25,
// 30/1.001, 30, 50, 60/1.001, 60, 100, 120/1.001 and 120. Drop-frame counting:
// SMPTE ST 12-1. Naming an interlaced format by its fields (1080i59.94) and a
// PsF format by its frames (1080PsF25) is common practice, no source.
package timebase
