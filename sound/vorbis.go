package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"

	"github.com/jfreymuth/vorbis"
)

// vorbisDecoder reads Vorbis I packets out of Ogg pages.
type vorbisDecoder struct {
	ogg   oggReader
	dec   vorbis.Decoder
	head  header
	trim  oggTrim
	first bool // the first page of sound is not read yet
	made  int64
	end   error
}

// emptyComments stands for the comment header, whose counts the library
// believes unchecked and which says nothing about the sound.
var emptyComments = []byte("\x03vorbis\x00\x00\x00\x00\x00\x00\x00\x00\x01")

func openVorbis(br *bufio.Reader, limits Limits) (decoder, error) {
	v := &vorbisDecoder{ogg: oggReader{r: br}, first: true}
	ident, _, err := v.ogg.packet()
	if err != nil {
		return nil, err
	}
	if err := v.identify(ident, limits); err != nil {
		return nil, err
	}
	if _, _, err := v.ogg.packet(); err != nil {
		return nil, err
	}
	setup, _, err := v.ogg.packet()
	if err != nil {
		return nil, err
	}
	if err := checkVorbisSetup(setup); err != nil {
		return nil, err
	}
	return v, errors.Join(v.dec.ReadHeader(emptyComments), v.dec.ReadHeader(setup))
}

// identify reads the identification header: 7 bytes of mark, version,
// channels, rate, three bit rates, block sizes, framing bit.
func (v *vorbisDecoder) identify(b []byte, limits Limits) error {
	if len(b) < 30 {
		return errors.New("its first header is too short")
	}
	v.head = header{format: Vorbis, channels: int(b[11]), rate: int(binary.LittleEndian.Uint32(b[12:]))}
	short, long := b[28]&15, b[28]>>4
	if short < 6 || long > 13 || short > long {
		return errors.New("its block sizes are impossible")
	}
	if err := limits.check(v.head); err != nil {
		return err
	}
	return v.dec.ReadHeader(b)
}

func (v *vorbisDecoder) header() header { return v.head }

func (v *vorbisDecoder) next(dst []float64) (int, error) {
	for v.trim.empty() {
		if v.end != nil {
			return 0, v.end
		}
		if err := v.fill(); err != nil {
			v.end = err
		}
	}
	return v.trim.take(dst, v.head.channels), nil
}

// fill decodes the next packet; the first time, all packets of the first page
// of sound, because only the page's granule position tells how many frames
// at its start are padding.
func (v *vorbisDecoder) fill() error {
	var sound []float64
	for {
		data, ends, err := v.ogg.packet()
		if err != nil {
			v.trim.put(sound, v.head.channels)
			return err
		}
		out, err := v.dec.Decode(data)
		if err != nil {
			return err
		}
		for _, x := range out {
			sound = append(sound, playable(float64(x)))
		}
		v.made += int64(len(out) / v.head.channels)
		if v.first && !ends {
			continue
		}
		if v.first && !v.ogg.last && v.ogg.granule >= 0 {
			v.trim.skip = max(v.made-v.ogg.granule, 0)
		}
		v.first = false
		v.trim.put(sound, v.head.channels)
		if ends && v.ogg.last {
			v.trim.cut(v.ogg.granule, v.head.channels)
			return io.EOF
		}
		return nil
	}
}

// Largest code books let through; those of real encoders stay below a tenth.
const (
	maxVorbisEntries = 1 << 16
	maxVorbisValues  = 1 << 20
)

// checkVorbisSetup walks over the code books of a set-up header (Vorbis I
// specification, section 3.2.1) and refuses sizes that would make the library
// reserve gigabytes: a few bytes can claim 2^24 entries of 2^16 values.
func checkVorbisSetup(packet []byte) error {
	if len(packet) < 8 || packet[0] != 5 {
		return errors.New("its set-up header is missing")
	}
	b := bitReader{data: packet[7:]}
	for range b.read(8) + 1 {
		if err := walkCodebook(&b); err != nil {
			return err
		}
	}
	return nil
}

func walkCodebook(b *bitReader) error {
	if b.read(24) != 0x564342 {
		return errors.New("a code book does not begin as it should")
	}
	dimensions, entries := b.read(16), b.read(24)
	if entries == 0 || dimensions == 0 || entries > maxVorbisEntries || entries*dimensions > maxVorbisValues {
		return errors.New("a code book has an impossible size")
	}
	walkLengths(b, entries)
	values := dimensions * entries
	switch b.read(4) {
	case 0:
		values = 0
	case 1:
		values = lookupValues(entries, dimensions)
		fallthrough
	case 2:
		b.skip(64)
		bits := int(b.read(4)) + 1
		b.skip(1 + bits*values)
	default:
		return errors.New("a code book has an unknown kind of values")
	}
	if b.past() {
		return errors.New("its set-up header ends too early")
	}
	return nil
}

func walkLengths(b *bitReader, entries int) {
	if b.read(1) == 1 { // ordered: run lengths
		b.skip(5)
		for done := 0; done < entries && !b.past(); {
			done += b.read(bitLength(entries - done))
		}
		return
	}
	sparse := b.read(1) == 1
	for range entries {
		if !sparse || b.read(1) == 1 {
			b.skip(5)
		}
	}
}

// lookupValues is the largest n with n^dimensions ≤ entries.
func lookupValues(entries, dimensions int) int {
	n := 1
	for {
		power := 1
		for range dimensions {
			if power *= n + 1; power > entries {
				return n
			}
		}
		n++
	}
}

func bitLength(n int) (bits int) {
	for ; n > 0; n >>= 1 {
		bits++
	}
	return bits
}

// bitReader reads numbers low bit first; past its end it reads zeros.
type bitReader struct {
	data []byte
	at   int // bit
}

func (b *bitReader) read(n int) (v int) {
	for i := range n {
		if k := b.at >> 3; k < len(b.data) {
			v |= int(b.data[k]>>(b.at&7)&1) << i
		}
		b.at++
	}
	return v
}

func (b *bitReader) skip(n int) { b.at += n }

func (b *bitReader) past() bool { return b.at > 8*len(b.data) }
