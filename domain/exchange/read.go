package exchange

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"delaybook/domain"
)

// Read reads what Write wrote, to the end of r. What is no whole export is
// Malformed: the error names the line. Errors of r are wrapped.
func Read(r io.Reader) (Header, *domain.Facts, error) {
	in := &lines{r: bufio.NewReader(r)}
	first, err := in.next()
	if broken(err) {
		return Header{}, nil, err
	}
	if err != nil || first.Export == nil {
		return Header{}, nil, malformed("line 1 is not the header of an export")
	}
	h := *first.Export
	if h.Format != Format {
		return Header{}, nil, domain.Errorf(domain.Malformed, "The export has form %d, this program reads form %d.", h.Format, Format)
	}
	facts, known := &domain.Facts{}, newKnown()
	for {
		l, err := in.next()
		if errors.Is(err, io.EOF) {
			return h, facts, h.check(facts)
		}
		if broken(err) {
			return Header{}, nil, err
		}
		if err == nil && !l.addTo(facts) {
			err = errors.New("it has no fact, or more than one")
		}
		if err == nil {
			err = known.take(l)
		}
		if err != nil {
			return Header{}, nil, malformed("line %d: %v", in.n, err)
		}
	}
}

// check compares what was read with what the header says of it.
func (h *Header) check(facts *domain.Facts) error {
	if n := count(facts); h.Facts != 0 && n != h.Facts {
		return malformed("its first line says that %d facts follow, and there are %d", h.Facts, n)
	}
	if last := facts.Last(); last != h.BookVersion {
		return malformed("its first line says that it is at version %d, and its changes end with %d", h.BookVersion, last)
	}
	return nil
}

func malformed(why string, values ...any) error {
	return domain.Errorf(domain.Malformed, "The export can not be read: %s. Send what an export wrote, unchanged and to its last line.", fmt.Sprintf(why, values...))
}

// lines reads one line after the other; empty ones count and are passed over.
type lines struct {
	r *bufio.Reader
	n int // of the line read last, from 1
}

var errReader = errors.New("read the export")

// broken reports whether err is one of the reader, not of what was read.
func broken(err error) bool { return errors.Is(err, errReader) }

// next returns io.EOF behind the last line.
func (in *lines) next() (*line, error) {
	for {
		text, err := in.r.ReadBytes('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("%w: %w", errReader, err)
		}
		in.n++
		if text = bytes.TrimSpace(text); len(text) > 0 {
			return parse(text)
		}
		if err != nil {
			return nil, io.EOF
		}
	}
}

func parse(text []byte) (*line, error) {
	in := json.NewDecoder(bytes.NewReader(text))
	in.DisallowUnknownFields()
	l := &line{}
	if err := in.Decode(l); err != nil {
		return nil, plain(err)
	}
	if in.More() {
		return nil, errors.New("there is more than one value on it")
	}
	return l, nil
}

// plain says what is wrong with a line without the words of the program.
func plain(err error) error {
	if e, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return fmt.Errorf("the member %s can not be a %s", e.Field, e.Value)
	}
	if e, ok := errors.AsType[*json.SyntaxError](err); ok {
		return fmt.Errorf("it is not JSON from byte %d on", e.Offset)
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return errors.New("it ends too early")
	}
	return errors.New(strings.TrimPrefix(err.Error(), "json: "))
}

// addTo adds the fact of a line, and reports whether there was exactly one.
func (l *line) addTo(f *domain.Facts) bool {
	n := 0
	n += add(&f.Changes, l.Change) + add(&f.Crews, l.Crew) + add(&f.Keys, l.Key) + add(&f.Devices, l.Device)
	n += add(&f.Stated, l.Stated) + add(&f.CardSources, l.CardSource) + add(&f.Limits, l.Limit) + add(&f.Variances, l.Variances)
	n += add(&f.Rigs, l.Rig) + add(&f.PowerUps, l.PowerUp) + add(&f.Measurements, l.Measurement)
	n += add(&f.Settings, l.Settings) + add(&f.Strikes, l.Strike)
	return n == 1 && l.Export == nil
}

func add[T any](list *[]T, x *T) int {
	if x == nil {
		return 0
	}
	*list = append(*list, *x)
	return 1
}
