package decoder

import (
	"encoding/binary"
	"errors"
	"io"
)

// A movie is what FFmpeg does not tell of a MOV or MP4 file: in which unit the
// start of a track is rounded, and of how many pieces each track is put
// together. Boxes are those of ISO/IEC 14496-12, sections 4.2, 8.2.2 and 8.6.6.
type movie struct {
	timeScale uint32 // units a second of the movie's own clock; 0: not found
	delayed   bool   // a track starts with an empty edit, whose length is in that unit
	pieces    int    // the most that any track has
}

// maxBoxes bounds the walk: a file of empty boxes only would take for ever.
const maxBoxes = 20000

var errTooManyBoxes = errors.New("the file has too many boxes")

// readMovie walks the boxes. A damaged file gives what was found before the damage.
func readMovie(r io.ReaderAt, size int64) (movie, error) {
	var m movie
	w := boxWalk{r: r, left: maxBoxes}
	err := w.walk(0, size, func(name string, from, to int64) error { return m.box(&w, name, from, to) })
	return m, err
}

func (m *movie) box(w *boxWalk, name string, from, to int64) error {
	switch name {
	case "moov", "trak", "edts":
		return w.walk(from, to, func(name string, from, to int64) error { return m.box(w, name, from, to) })
	case "mvhd":
		// After version and flags: creation and modification, of 4 bytes each or, in version 1, of 8.
		var b [24]byte
		if _, err := w.r.ReadAt(b[:], from); err != nil {
			return nil
		}
		m.timeScale = binary.BigEndian.Uint32(b[12:])
		if b[0] == 1 {
			m.timeScale = binary.BigEndian.Uint32(b[20:])
		}
	case "elst":
		m.edits(w.r, from, to)
	}
	return nil
}

// edits counts the pieces of one track. A media time of -1 is an empty edit.
func (m *movie) edits(r io.ReaderAt, from, to int64) {
	const maxList = 64 << 10
	b := make([]byte, min(to-from, maxList))
	if n, _ := r.ReadAt(b, from); n < len(b) || len(b) < 8 {
		return
	}
	entry, at := 12, 4
	if b[0] == 1 {
		entry, at = 20, 8
	}
	count := int(min(binary.BigEndian.Uint32(b[4:]), maxList))
	pieces := 0
	for i, rest := 0, b[8:]; i < count && len(rest) >= entry; i, rest = i+1, rest[entry:] {
		empty := binary.BigEndian.Uint32(rest[at:]) == 1<<32-1
		if empty && i == 0 {
			m.delayed = true
		}
		if !empty {
			pieces++
		}
	}
	m.pieces = max(m.pieces, pieces)
}

type boxWalk struct {
	r    io.ReaderAt
	left int
}

// walk calls visit with the name and the extent of the content of each box from one offset to another.
func (w *boxWalk) walk(from, to int64, visit func(name string, from, to int64) error) error {
	for from+8 <= to {
		if w.left--; w.left < 0 {
			return errTooManyBoxes
		}
		var head [16]byte
		if n, _ := w.r.ReadAt(head[:], from); n < 8 {
			return nil
		}
		size, content := int64(binary.BigEndian.Uint32(head[:])), int64(8)
		switch size {
		case 0:
			size = to - from
		case 1:
			size, content = int64(binary.BigEndian.Uint64(head[8:])), 16
		}
		if size < content || size > to-from {
			return nil
		}
		if err := visit(string(head[4:8]), from+content, from+size); err != nil {
			return err
		}
		from += size
	}
	return nil
}
