package timebase

import (
	"bytes"
	"errors"
)

// MarshalText implements encoding.TextMarshaler. The zero SampleRate is an error.
func (s SampleRate) MarshalText() ([]byte, error) {
	if s.IsZero() {
		return nil, errors.New("timebase: the zero SampleRate has no text")
	}
	return []byte(s.String()), nil
}

// UnmarshalText implements encoding.TextUnmarshaler with ParseSampleRate.
func (s *SampleRate) UnmarshalText(text []byte) error {
	got, err := ParseSampleRate(string(text))
	if err != nil {
		return err
	}
	*s = got
	return nil
}

// MarshalJSON writes a number. The zero SampleRate is an error.
func (s SampleRate) MarshalJSON() ([]byte, error) { return s.MarshalText() }

// UnmarshalJSON reads a number or a string; null leaves s alone.
func (s *SampleRate) UnmarshalJSON(data []byte) error {
	text, err := jsonText(data)
	if err != nil || text == "" && !bytes.HasPrefix(data, []byte(`"`)) {
		return err
	}
	return s.UnmarshalText([]byte(text))
}
