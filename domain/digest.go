package domain

import (
	"encoding/hex"
	"fmt"
)

// A Digest is a SHA-256 sum. As text it is hexadecimal.
type Digest [32]byte

// MarshalText implements encoding.TextMarshaler.
func (d Digest) MarshalText() ([]byte, error) { return hex.AppendEncode(nil, d[:]), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (d *Digest) UnmarshalText(text []byte) error {
	raw, err := hex.DecodeString(string(text))
	if err != nil || len(raw) != len(d) {
		return fmt.Errorf("%q is not a SHA-256 sum: send 64 hexadecimal digits", text)
	}
	*d = Digest(raw)
	return nil
}
