package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"

	"github.com/hajimehoshi/go-mp3"
)

// mp3Decoder reads MPEG layer III. The library always gives 16-bit stereo; a
// mono file is folded back to one channel. An encoder puts some tens of
// milliseconds of silence before the sound: every time in the file is late by
// that much, differences of times are not.
type mp3Decoder struct {
	dec  *mp3.Decoder
	head header
	raw  []byte
}

func openMP3(br *bufio.Reader, limits Limits) (decoder, error) {
	if err := skipID3(br); err != nil {
		return nil, err
	}
	channels, err := mp3Channels(br)
	if err != nil {
		return nil, err
	}
	// A reader without other abilities keeps the library from walking the
	// whole file to count its frames.
	dec, err := mp3.NewDecoder(struct{ io.Reader }{br})
	if err != nil {
		return nil, err
	}
	if dec.SampleRate() == 22050 {
		return nil, wrongPadding
	}
	m := &mp3Decoder{dec: dec, head: header{format: MP3, rate: dec.SampleRate(), channels: channels}, raw: make([]byte, 4*blockFrames)}
	return m, limits.check(m.head)
}

// wrongPadding refuses a rate at which the library (v0.3.4) drops the padding
// byte of frames of 16, 32, 80 kbit/s and others, loses its place in the bit
// reservoir, and plays noise without a word. Only this rate needs padding
// among those of MPEG-2.
var wrongPadding = &FileError{
	Code: CodeUnsupported, Field: "sample rate",
	Reason: "MP3 at 22.05 kHz is not decoded here, because some such files come out wrong",
	Hint:   "save it as WAV, or as MP3 at 44.1 kHz",
}

// skipID3 passes over an ID3v2 tag, which the library would read into memory
// whatever size it claims.
func skipID3(br *bufio.Reader) error {
	b, err := br.Peek(10)
	if err != nil || string(b[:3]) != "ID3" {
		return nil // too short for a tag: let the frame search speak
	}
	size := int64(b[6]&127)<<21 | int64(b[7]&127)<<14 | int64(b[8]&127)<<7 | int64(b[9]&127)
	_, err = io.CopyN(io.Discard, br, 10+size)
	return err
}

// mp3Channels finds the first frame header and reads its channel mode.
func mp3Channels(br *bufio.Reader) (int, error) {
	for range 1 << 16 {
		b, err := br.Peek(4)
		if err != nil {
			return 0, damaged(MP3, errors.Join(errCutShort, err), "there is no frame in it")
		}
		if word := binary.BigEndian.Uint32(b); isMP3Header(word) {
			if word>>6&3 == 3 {
				return 1, nil
			}
			return 2, nil
		}
		if _, err := br.Discard(1); err != nil {
			return 0, err
		}
	}
	return 0, damaged(MP3, nil, "there is no frame in its first 64 KiB")
}

func (m *mp3Decoder) header() header { return m.head }

func (m *mp3Decoder) next(dst []float64) (int, error) {
	want := min(len(m.raw), 4*(len(dst)/m.head.channels))
	got, err := io.ReadFull(m.dec, m.raw[:want])
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil // the next call meets the end
	}
	frames, n := got/4, 0
	for i := range frames {
		for c := range m.head.channels {
			dst[n] = float64(int16(binary.LittleEndian.Uint16(m.raw[4*i+2*c:]))) / (1 << 15)
			n++
		}
	}
	if frames == 0 && err == nil {
		err = io.EOF
	}
	return n, err
}
