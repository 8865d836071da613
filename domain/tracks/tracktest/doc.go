// Package tracktest makes sound for tests of package tracks: sources like speech,
// music and claps, rooms, microphones and clocks. All of it is simulated and
// follows from a seed.
package tracktest
