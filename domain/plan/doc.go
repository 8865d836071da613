// Package plan says what to set on every delay control of a rig.
//
// # The problem
//
// A rig has picture chains and sound chains that are compared at destinations; a pair is one of
// each at one destination. Controls delay the chains they stand in, or the tail that a destination
// adds to every chain. With the delays of a setting
//
//	after = location + delays on the picture path - delays on the sound path
//
// where location is the pair's offset with every control at zero delay (positive: sound early).
// The next power-up gives after plus a draw of the pair's law (package law). A feed is a sound chain
// that must stay live: its controls may add no more than so much over their minimum.
//
// # The answer
//
// Of the finitely many settings the plan takes the one that is best in this order:
//
//  1. every hard pair at the target chance; if that cannot be, give up as few and as hopeless pairs
//     as possible and bring the rest as high as possible together. What is reached stays a need.
//  2. pictures: least delay, fewest recorded settings changed, fewest controls off their minimum.
//  3. sound, part by part (controls linked by a path or a feed): the worst hard pair as high as
//     possible (levels of 0.001, up to 999), then soft pairs, then pairs given up; least delay on
//     live feeds; fewest recorded settings changed; smallest largest |after|; later sound; fewest
//     controls off their minimum. Then the controls that carry most paths are fixed and what is
//     left is solved again, so that the worst pair of one microphone leaves no other one loose.
//  4. what is still tied: controls listed first take the larger delay.
//
// The plan with itself in force is itself again.
//
// # How
//
// All delays, locations and bounds are integers of 1/705600 ms, which is exact for milliseconds,
// for samples at 44.1, 48 and 96 kHz and for frames at every broadcast rate, so no comparison
// rounds. A criterion is a threshold, and a threshold is a decision: is there a setting whose sums
// lie between these bounds? Decisions are made by bound propagation with each sum rounded to the
// lattice it can reach, and by halving what is left. Nothing is sampled; the answer is the optimum,
// or carries the code plan-not-proven when its Budget ended first.
package plan
