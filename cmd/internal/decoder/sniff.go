package decoder

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"syscall"

	"delaybook/domain/recording"
)

// sniffBytes is how much of a file says what it is: two packets of the longest MPEG transport stream.
const sniffBytes = 600

// sniff names the container by the first bytes, and only one that holds its media itself. The name is FFmpeg's of the
// reader, and that reader is forced: left to guess, it takes a list of other files for a recording.
func sniff(head []byte) (container string, ok bool) {
	at := func(offset int, magic string) bool {
		return len(head) >= offset && bytes.HasPrefix(head[offset:], []byte(magic))
	}
	riff := at(0, "RIFF") || at(0, "RF64") || at(0, "BW64")
	switch {
	case isMovie(head):
		return "mov", true
	case at(0, "\x1a\x45\xdf\xa3"):
		return "matroska", true
	case riff && at(8, "AVI "):
		return "avi", true
	case riff && at(8, "WAVE"):
		return "wav", true
	case at(0, "\x06\x0e\x2b\x34\x02\x05\x01\x01\x0d\x01\x02"):
		return "mxf", true
	case at(0, "OggS"):
		return "ogg", true
	case at(0, "fLaC"):
		return "flac", true
	case at(0, "FLV\x01"):
		return "flv", true
	case at(0, "FORM") && (at(8, "AIFF") || at(8, "AIFC")):
		return "aiff", true
	case at(0, "\x00\x00\x01\xba"):
		return "mpeg", true
	case isTransport(head, 0, 188), isTransport(head, 4, 192):
		return "mpegts", true
	case at(0, "ID3"), len(head) > 2 && head[0] == 0xff && head[1]&0xe6 == 0xe2:
		return "mp3", true
	}
	return "", false
}

// isMovie tells whether the first box is one that an ISO or QuickTime file begins with.
func isMovie(head []byte) bool {
	if len(head) < 8 {
		return false
	}
	first := []string{"ftyp", "moov", "mdat", "wide", "free", "skip", "pnot", "styp"}
	size := binary.BigEndian.Uint32(head)
	return slices.Contains(first, string(head[4:8])) && (size == 0 || size == 1 || size >= 8)
}

func isTransport(head []byte, first, step int) bool {
	if len(head) <= first+2*step {
		return false
	}
	return head[first] == 0x47 && head[first+step] == 0x47 && head[first+2*step] == 0x47
}

// look opens the file, checks its kind and size, and sniffs.
func (d *Decoder) look(file string) (container string, size int64, err error) {
	f, err := os.OpenFile(file, os.O_RDONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if errors.Is(err, syscall.ELOOP) {
		return "", 0, refuse(unreadable("The file is a link to another."), err)
	}
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return "", 0, err
	}
	if !info.Mode().IsRegular() {
		return "", 0, refuse(unreadable("This is not a file."), nil)
	}
	if info.Size() > d.limits.Bytes {
		return "", 0, refuse(recording.Refusal{
			Code: recording.TooBig,
			Text: fmt.Sprintf("The file has %d MB; at most %d MB are taken.", info.Size()>>20, d.limits.Bytes>>20),
			Try:  "Send 20 seconds of it; half a minute is more than enough.",
		}, nil)
	}
	head := make([]byte, sniffBytes)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return "", 0, err
	}
	container, ok := sniff(head[:n])
	if !ok {
		return "", 0, refuse(unreadable("The file is none of the kinds of recording that can be read."), nil)
	}
	return container, info.Size(), nil
}
