// Package estimate turns what a company measured into latencies of devices and
// offsets of rigs, with intervals that say what they cover.
//
// # Model
//
// A measurement is the arrival of one chain minus the arrival of another, ms.
// With the delays dialled in and the air of the sound taken out,
//
//	y = sum of latencies on the first path - sum on the second
//	    + deviations of the units + card source + phases + scatter
//
// A latency belongs to (device, mode, signal) and is an unknown without prior,
// unless somebody stated it. Units deviate from their device by a normal amount
// of a variance per kind of device. A stage that runs free is re-timed to the
// frames of the next one: it adds a phase, uniform over one frame, that is the
// same for all pairs through it in one power-up and walks slowly. A card source
// has an offset of its own, with a prior until measurements without a card
// narrow it. What is left scatters from power-up to power-up by a variance per
// class (locked, free, unknown, varies), and from reading to reading.
//
// Readings collapse to their mean without loss; measurements that repeat one
// another within minutes are merged. The unknowns and variances of a whole book
// are estimated together by package adjust: mixed-model equations, penalised
// restricted likelihood, errors and degrees of freedom after Kenward and Roger.
//
// # What is determined
//
// Which latencies and offsets the rows determine is decided exactly, on the
// integers of the design (package exact). What is not determined is never given
// as a number: a latency may be known only together with others, an offset may
// be assumed from another mode of a device, else what is missing is named.
//
// # Intervals
//
// Estimate covers the mean over power-ups, Next what the next power-up may give.
// Both have the law of a uniform plus a normal variable with a Student factor.
//
// # Doubtful measurements
//
// A measurement that contradicts the rest loses weight, and beyond a Bonferroni
// bound is flagged with the slip that would explain it. It is never dropped.
//
// # Units, order, digits
//
// Milliseconds everywhere; positive offsets mean that the second chain is
// early. Answers do not depend on the order of anything in a book, and equal
// books give equal digits: nothing is random, and a component depends on its own
// rows and the variances only.
//
// STATISTICS.md beside this file says what was validated and where the method
// is weak.
package estimate
