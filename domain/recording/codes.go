package recording

// A Flag is a warning about a result: the number stands, with a grain of salt.
type Flag string

// The flags.
const (
	FlagVFR             Flag = "vfr"               // the frame period varies: a phone, most likely
	FlagDrift           Flag = "drift"             // the offset grows through the recording
	FlagRateError       Flag = "rate-error"        // it drifts by 1000 ppm: 1000/1001 was mixed up somewhere
	FlagCardRate        Flag = "card-rate"         // the card ran fast or slow: a converted or re-timed card file
	FlagUnmatched       Flag = "unmatched"         // flashes without a beep or beeps without a flash
	FlagUnstable        Flag = "unstable"          // the offset stepped within the recording: each stretch has its own
	FlagClipped         Flag = "clipped"           // the flash is overexposed: up to 4 ms off
	FlagFrameLocked     Flag = "frame-locked"      // flashes fall in fewer than 5 phases of the frame: they add no detail
	FlagShortExposure   Flag = "short-exposure"    // the shutter is so short that few frames catch a change
	FlagLowSNR          Flag = "low-snr"           // the beep is close to the noise
	FlagAudioGap        Flag = "audio-gap"         // sound is missing in places
	FlagRolling         Flag = "rolling"           // rows are exposed one after the other, and the flash is off centre
	FlagEditListDropped Flag = "edit-list-dropped" // frames before the start of the edit were left out
	FlagCadence         Flag = "cadence"           // a rate converter moves each event differently
	FlagSoftOnset       Flag = "soft-onset"        // the beep fades in: a gate, suppressor or call program ate its start
	FlagFieldOrder      Flag = "field-order"       // the fields come in the other order than the file says
	FlagInterlaced      Flag = "interlaced"        // fields were used as samples in time
	FlagAutoExposure    Flag = "auto-exposure"     // the camera's exposure or shutter changes with the flash
	FlagInverted        Flag = "inverted"          // the polarity of one track is turned over
	FlagCutShort        Flag = "cut-short"         // only the beginning was looked at
	FlagStampStep       Flag = "stamp-step"        // the container rounds the start of the sound
	FlagWeakMatch       Flag = "weak-match"        // the two tracks agree, though not by much
)

// A RefusalCode says why a recording gives no number.
type RefusalCode string

// The refusals.
const (
	NoVideo    RefusalCode = "no-video"   // the file has no picture
	NoAudio    RefusalCode = "no-audio"   // the file has no sound
	NoFlashes  RefusalCode = "no-flashes" // no flash was seen
	NoBeeps    RefusalCode = "no-beeps"   // one beep or none was heard
	TooFew     RefusalCode = "too-few"    // fewer than 4 flashes have their beep
	Ambiguous  RefusalCode = "ambiguous"  // another pairing fits as well: the events are evenly spaced
	Unpaired   RefusalCode = "unpaired"   // most flashes and beeps do not belong together
	Unreadable RefusalCode = "unreadable" // not a recording that can be decoded
	TooLong    RefusalCode = "too-long"   // more frames than are taken
	TooBig     RefusalCode = "too-big"    // more bytes or pixels than are taken
	TimedOut   RefusalCode = "timed-out"  // decoding took longer than is allowed
	OneTrack   RefusalCode = "one-track"  // comparing tracks needs two
	Tonal      RefusalCode = "tonal"      // a tone or hum repeats itself: any period fits
	Unrelated  RefusalCode = "unrelated"  // the two tracks do not hold the same sound
	Silent     RefusalCode = "silent"     // a track is silent
	TooShort   RefusalCode = "too-short"  // less than 2 s of common sound
	Echo       RefusalCode = "echo"       // a reflection is as strong as the direct sound
	Jumps      RefusalCode = "jumps"      // stretches of the tracks contradict each other
)
