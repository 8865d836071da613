package decoder

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// What is decoded comes on two pipes, since a time stamp has to be exact and no
// container that can be written to a pipe keeps one: the media in Matroska, of
// which only the order counts, and the time stamps as lines of framecrc. Both
// writers get the same packets, so that packet k of a stream is line k of it.

// A stamp is the line of one packet, in seconds.
type stamp struct {
	at    float64 // NaN: the packet has none
	units int64   // how long it lasts, in the stream's time base
	size  int
}

// stamps reads the lines "stream, dts, pts, duration, size, checksum" after headers like "#tb 0: 1/90000", and calls
// each with the stream's number.
func stamps(r io.Reader, each func(stream int, s stamp) error) error {
	base := map[int]float64{}
	lines := bufio.NewScanner(r)
	for lines.Scan() {
		line := lines.Text()
		if header, ok := strings.CutPrefix(line, "#tb "); ok {
			number, text, _ := strings.Cut(header, ": ")
			if stream, err := strconv.Atoi(number); err == nil {
				base[stream] = fraction(text)
			}
			continue
		}
		fields := strings.Split(line, ",")
		if len(fields) < 6 {
			continue // a header, or what the program says of damage
		}
		stream, s, ok := parseStamp(fields, base)
		if !ok {
			continue
		}
		if err := each(stream, s); err != nil {
			return err
		}
	}
	return lines.Err()
}

func parseStamp(fields []string, base map[int]float64) (stream int, s stamp, ok bool) {
	number := func(i int) int64 {
		n, err := strconv.ParseInt(strings.TrimSpace(fields[i]), 10, 64)
		ok = ok && err == nil
		return n
	}
	ok = true
	stream = int(number(0))
	pts := number(2)
	s = stamp{at: float64(pts) * base[stream], units: number(3), size: int(number(4))}
	if pts == math.MinInt64 || base[stream] == 0 { // FFmpeg's sign for no time stamp
		s.at = math.NaN()
	}
	return stream, s, ok
}

// The Matroska elements that matter; all others are skipped. Segments, clusters and groups are stepped into, whatever
// size they state. IDs are those of RFC 9559, section 5.
const (
	segmentID   = 0x18538067
	clusterID   = 0x1f43b675
	groupID     = 0xa0
	blockID     = 0xa1
	simpleID    = 0xa3
	blockHeader = 4 // of a track number below 128: the number, two bytes of time, flags
	maxElement  = 64 << 20
	unknownSize = -1
)

var errPayload = errors.New("the decoder's output is not as expected")

// blocks reads a Matroska stream and calls each with the stream's number, from 0, and the content of its next packet,
// which is only lent.
func blocks(r io.Reader, each func(stream int, content []byte) error) error {
	in := bufio.NewReaderSize(r, 64<<10)
	var buffer []byte
	for {
		id, err := readVint(in, false)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		size, err := readVint(in, true)
		if err != nil {
			return fmt.Errorf("%w: an element has no size", errPayload)
		}
		switch {
		case id == segmentID || id == clusterID || id == groupID:
			continue
		case size < 0 || size > maxElement:
			return fmt.Errorf("%w: an element of %d bytes", errPayload, size)
		case id != blockID && id != simpleID:
			if _, err := in.Discard(int(size)); err != nil {
				return nil // cut off where the program stopped
			}
			continue
		case size < blockHeader:
			return fmt.Errorf("%w: a block of %d bytes", errPayload, size)
		}
		if int64(cap(buffer)) < size {
			buffer = make([]byte, size)
		}
		block := buffer[:size]
		if _, err := io.ReadFull(in, block); err != nil {
			return nil
		}
		if block[0]&0x80 == 0 {
			return fmt.Errorf("%w: a block of no known track", errPayload)
		}
		if err := each(int(block[0]&0x7f)-1, block[blockHeader:]); err != nil {
			return err
		}
	}
}

// readVint reads a number whose first byte tells its length by its leading zeros (RFC 8794, section 4). As a size the
// marker is taken off and all ones mean that it is not known; as an ID it stays on.
func readVint(in *bufio.Reader, isSize bool) (int64, error) {
	first, err := in.ReadByte()
	if err != nil {
		return 0, err
	}
	length := bits.LeadingZeros8(first) + 1
	if length > 8 {
		return 0, fmt.Errorf("%w: a number of more than 8 bytes", errPayload)
	}
	value := int64(first)
	if isSize {
		value &= 1<<(8-length) - 1
	}
	for range length - 1 {
		next, err := in.ReadByte()
		if err != nil {
			return 0, fmt.Errorf("%w: it ends within a number", errPayload)
		}
		value = value<<8 | int64(next)
	}
	if isSize && value == 1<<(7*length)-1 {
		return unknownSize, nil
	}
	return value, nil
}
