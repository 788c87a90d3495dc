package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/pion/opus"
)

const (
	opusRate      = 48000 // whatever the recorder took, Opus gives 48 kHz
	opusMaxFrames = 5760  // 120 ms, the longest packet
)

// opusDecoder reads Opus in Ogg (RFC 7845) by a library that decodes SILK,
// CELT and hybrid packets.
type opusDecoder struct {
	ogg  oggReader
	dec  opus.Decoder
	head header
	gain float64
	skip int64 // frames of start-up to drop; granule positions count them
	out  []float32
	trim oggTrim
	end  error
}

func openOpus(br *bufio.Reader, limits Limits) (decoder, error) {
	o := &opusDecoder{ogg: oggReader{r: br}}
	head, _, err := o.ogg.packet()
	if err != nil {
		return nil, err
	}
	if err := o.identify(head, limits); err != nil {
		return nil, err
	}
	if _, _, err := o.ogg.packet(); err != nil { // the comments
		return nil, err
	}
	o.dec, err = opus.NewDecoderWithOutput(opusRate, o.head.channels)
	o.out = make([]float32, opusMaxFrames*o.head.channels)
	return o, err
}

// identify reads the OpusHead packet: mark, version, channels, start-up,
// original rate, gain in 1/256 dB, channel mapping.
func (o *opusDecoder) identify(b []byte, limits Limits) error {
	if len(b) < 19 || b[8]>>4 != 0 {
		return errors.New("its first header is too short or of an unknown version")
	}
	o.head = header{format: Opus, rate: opusRate, channels: int(b[9])}
	o.skip = int64(binary.LittleEndian.Uint16(b[10:]))
	o.trim.skip = o.skip
	o.gain = math.Pow(10, float64(int16(binary.LittleEndian.Uint16(b[16:])))/(20*256))
	if err := limits.check(o.head); err != nil {
		return err
	}
	if b[18] != 0 {
		return refuse("an Opus file with several streams")
	}
	return nil
}

func (o *opusDecoder) header() header { return o.head }

func (o *opusDecoder) next(dst []float64) (int, error) {
	for o.trim.empty() {
		if o.end != nil {
			return 0, o.end
		}
		if err := o.fill(); err != nil {
			o.end = err
		}
	}
	return o.trim.take(dst, o.head.channels), nil
}

func (o *opusDecoder) fill() error {
	data, ends, err := o.ogg.packet()
	if err != nil {
		return err
	}
	frames, err := o.dec.DecodeToFloat32(data, o.out)
	if err != nil {
		return fmt.Errorf("a packet cannot be decoded: %w", err)
	}
	if frames < 0 || frames*o.head.channels > len(o.out) {
		return fmt.Errorf("a packet of %d frames", frames)
	}
	sound := make([]float64, frames*o.head.channels)
	for i := range sound {
		sound[i] = playable(float64(o.out[i]) * o.gain)
	}
	o.trim.put(sound, o.head.channels)
	if ends && o.ogg.last {
		o.trim.cut(o.ogg.granule-o.skip, o.head.channels)
		return io.EOF
	}
	return nil
}
