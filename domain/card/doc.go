// Package card holds the flash-and-beep card: when its events come, what one
// looks and sounds like, how it is laid on the frames of a file, and which file
// suits which camera.
//
// It draws pictures and sounds as plain numbers. It knows nothing of encoders,
// files on disk or browsers, and imports the standard library and timebase.
//
// # The sequence
//
// Twelve intervals of 701 to 1372 ms repeat for ever; a recording may begin
// anywhere. They are uneven so that flashes and beeps can be paired without
// knowing the offset: every span over one, two or three intervals up to 2.25 s
// differs from every other by 45 ms or more, so that a wrong pairing lines up
// about one event a cycle where the right one lines up all. They are no
// multiples of a frame, so that a camera on a clock of its own catches the
// flashes in many phases of its frame. They are slow: Success Criterion 2.3.1
// of WCAG 2.2 allows three flashes in any second, and any second of the card
// holds two at most. The numbers are our own; there is no source but the tests.
//
// # One event
//
// Light and sound start together. The flash area goes from black to white in one
// step and back after 160 ms. The tone has 2000 Hz and phase 0 at its start, an
// attack of 1 ms and a decay of 4 ms, both linear, and is 60 ms long.
//
// # A file
//
// A file has a whole number of frames, so its events can not start anywhere. Each
// is moved to the nearest start of a frame, and its beep is moved along, so that
// light and sound stay together within half a sample (10.4 microseconds at 48 kHz).
package card
