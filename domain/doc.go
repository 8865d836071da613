// Package domain holds the words of delaybook: the things that a crew
// measures with, the rules that they obey, and the errors that people see.
// It knows nothing of SQL or HTTP and computes no estimate.
//
// # Words
//
//   - offset: picture arrival minus sound arrival, in ms. Positive: the sound
//     is early. The sign is that of Rec. ITU-R BT.1359-1. The delay to add to
//     the sound equals the offset.
//   - device: a model of equipment in the company catalogue.
//   - mode: how a device is set; a latency belongs to (device, mode, signal).
//   - unit: one physical item of a device, with an asset tag.
//   - control: something on a device that delays a chain, on a grid of its own.
//   - chain: ordered stages from a source, for picture or sound. The chain
//     "live" has no stages: it is the event itself, seen or heard directly.
//   - stage: a device or unit in a mode, with its timing.
//   - destination: where picture and sound are compared. It adds a tail of
//     stages and air to every chain, and has a limit.
//   - feed: a sound chain without picture that must stay live.
//   - rig: chains, destinations, feeds and pairs of one job; its description
//     is kept as numbered revisions.
//   - power-up: a period in which nothing was switched off, re-plugged or changed.
//   - measurement: one comparison of two chains at one destination in one
//     power-up, with the settings dialled in; it has one or more readings.
//   - stated value: a latency, or a difference of two signals, from a data
//     sheet or handbook.
//   - card, card source: the flash-and-beep card and the device that shows it.
//   - limit: a published or company tolerance with an early and a late bound.
//   - plan: the recommended settings of all controls of a rig.
//   - check: a measurement made with the plan dialled in.
//   - book: all of the above. Its version only grows.
//
// # Facts
//
// Facts are never changed in place. Each carries the book version that made
// it; a later fact replaces, retires or strikes an earlier one. [Facts] is a
// set of them: what one write adds, what a reader catches up with, and what an
// export holds.
//
// # Units
//
// Durations are float64 milliseconds and say so in their name. Settings are
// exact decimals on the grid of their control. Rates are exact fractions.
// Instants are kept with the offset from UTC of the person who wrote them.
package domain
