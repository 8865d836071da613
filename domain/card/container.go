package card

import (
	"fmt"
	"slices"
	"strings"

	"delaybook/domain/timebase"
)

// A Container is the form of a file.
type Container string

// The containers.
const (
	MOV Container = "mov" // H.264 and uncompressed sound: for players, editors and playback machines
	MP4 Container = "mp4" // H.264 and AAC: for phones, tablets and televisions
)

// Containers returns the containers.
func Containers() []Container { return []Container{MOV, MP4} }

// Media returns the media type of the container.
func (c Container) Media() string {
	if c == MP4 {
		return "video/mp4"
	}
	return "video/quicktime"
}

// Sound returns what the sound is coded in.
func (c Container) Sound() string {
	if c == MP4 {
		return "AAC"
	}
	return "PCM"
}

// ParseContainer reads "mov" or "mp4", in any case. The error is a
// *timebase.InputError.
func ParseContainer(text string) (Container, error) {
	if c := Container(strings.ToLower(strings.TrimSpace(text))); slices.Contains(Containers(), c) {
		return c, nil
	}
	return "", &timebase.InputError{Input: text, Detail: "the card does not come in this container", Send: `"mov" or "mp4"`}
}

// ParseRate reads one of Rates. The error is a *timebase.InputError.
func ParseRate(text string) (timebase.Rate, error) {
	rate, err := timebase.ParseRate(text)
	if err == nil && slices.Contains(Rates(), rate) {
		return rate, nil
	}
	return timebase.Rate{}, &timebase.InputError{
		Input: text, Detail: "the card is not made at this rate", Send: "one of " + strings.Join(ratesText, ", "),
	}
}

// FileName returns the name of a file of this version of the card.
func FileName(rate timebase.Rate, c Container) string {
	return fmt.Sprintf("flash-and-beep-v%d-%s.%s", Version, rate.Label(), c)
}
