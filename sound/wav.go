package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Sample codings of a WAV file (Microsoft's format tags).
const (
	wavePCM        = 1
	waveFloat      = 3
	waveExtensible = 0xFFFE
)

// waveKey ends every sub-format identifier that only repeats a format tag.
const waveKey = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"

// wavDecoder reads RIFF WAVE, and RF64/BW64 for files beyond 4 GB. It reads
// forward only, so it trusts no size in the file: sound ends where the file
// ends, or where its size says, whichever comes first.
type wavDecoder struct {
	r       io.Reader
	head    header
	size    int // bytes of one sample
	convert func(raw []byte, dst []float64)
	raw     []byte
	left    int64 // bytes of sound still promised; −1 until the end of the file
}

func openWAV(br *bufio.Reader, limits Limits) (decoder, error) {
	var riff [12]byte
	if _, err := io.ReadFull(br, riff[:]); err != nil {
		return nil, err
	}
	w := &wavDecoder{r: br, head: header{format: WAV}}
	dataSize64 := int64(-1)
	for {
		id, size, err := waveChunk(br)
		if err != nil {
			return nil, noChunk(err, w.convert != nil)
		}
		switch {
		case id == "fmt ":
			err = w.readFormat(br, size)
		case id == "ds64" && size >= 24:
			dataSize64, err = readSize64(br, size)
		case id == "data" && w.convert == nil:
			err = damaged(WAV, nil, "its sound comes before its format")
		case id == "data":
			if err := limits.check(w.head); err != nil {
				return nil, err
			}
			return w.begin(br, size, dataSize64), nil
		default:
			err = skipChunk(br, size)
		}
		if err != nil {
			return nil, err
		}
	}
}

func noChunk(err error, formatSeen bool) error {
	missing := "format"
	if formatSeen {
		missing = "sound"
	}
	return damaged(WAV, errors.Join(errCutShort, err), "it ends before its %s chunk", missing)
}

func waveChunk(br *bufio.Reader) (id string, size int64, err error) {
	var head [8]byte
	if _, err := io.ReadFull(br, head[:]); err != nil {
		return "", 0, err
	}
	return string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:])), nil
}

// skipChunk passes over a chunk and its pad byte. Some writers forget the pad
// byte; no chunk begins with a zero, so a zero there is one.
func skipChunk(br *bufio.Reader, size int64) error {
	if _, err := io.CopyN(io.Discard, br, size); err != nil {
		return err
	}
	return skipPad(br, size)
}

func skipPad(br *bufio.Reader, size int64) error {
	if size%2 == 0 {
		return nil
	}
	next, err := br.Peek(1)
	if err != nil {
		if errors.Is(err, io.EOF) {
			return nil
		}
		return err
	}
	if next[0] == 0 {
		_, err = br.Discard(1)
	}
	return err
}

// readSize64 takes the size of the sound from an RF64 file's own chunk.
func readSize64(br *bufio.Reader, size int64) (int64, error) {
	var b [24]byte
	if _, err := io.ReadFull(br, b[:]); err != nil {
		return 0, err
	}
	data := binary.LittleEndian.Uint64(b[8:16])
	if data > math.MaxInt64 {
		return 0, damaged(WAV, nil, "its size chunk is impossible")
	}
	return int64(data), skipChunk(br, size-24)
}

// readFormat reads the format chunk: coding, channels, rate, sample width.
func (w *wavDecoder) readFormat(br *bufio.Reader, size int64) error {
	if size < 16 || size > 4096 {
		return damaged(WAV, nil, "its format chunk is %d bytes long", size)
	}
	b := make([]byte, size)
	if _, err := io.ReadFull(br, b); err != nil {
		return err
	}
	tag := int(binary.LittleEndian.Uint16(b))
	w.head.channels = int(binary.LittleEndian.Uint16(b[2:]))
	w.head.rate = int(min(binary.LittleEndian.Uint32(b[4:]), math.MaxInt32))
	frame := int(binary.LittleEndian.Uint16(b[12:]))
	w.head.bits = int(binary.LittleEndian.Uint16(b[14:]))
	if tag == waveExtensible {
		if size < 40 || string(b[26:40]) != waveKey {
			return refuse("a WAV file with an unknown extensible coding")
		}
		tag = int(binary.LittleEndian.Uint16(b[24:]))
	}
	if err := w.choose(tag, frame); err != nil {
		return err
	}
	return skipPad(br, size)
}

// choose finds the conversion for a coding, or says why there is none.
func (w *wavDecoder) choose(tag, frame int) error {
	if tag != wavePCM && tag != waveFloat {
		return &FileError{
			Code: CodeUnsupported, Field: "file",
			Reason: "this WAV file holds " + waveCoding(tag) + " instead of plain samples",
			Hint:   "save it as 16-bit or 24-bit PCM WAV",
		}
	}
	w.size = (w.head.bits + 7) / 8
	if w.head.channels > 0 && frame%w.head.channels == 0 && frame/w.head.channels > w.size {
		// 20 bits in 3 bytes, 24 in 4: left-justified in the wider place
		w.size = frame / w.head.channels
	}
	w.convert = converters[[2]int{tag, w.size}]
	if w.convert == nil || w.head.bits < 8 || tag == waveFloat && w.head.bits != 8*w.size {
		return &FileError{
			Code: CodeUnsupported, Field: "file",
			Reason: fmt.Sprintf("this WAV file has %d-bit samples in %d bytes", w.head.bits, w.size),
			Hint:   "PCM of 8, 16, 24 or 32 bits and float of 32 or 64 bits are read",
		}
	}
	return nil
}

func waveCoding(tag int) string {
	switch tag {
	case 2, 0x11:
		return "ADPCM"
	case 6:
		return "A-law"
	case 7:
		return "mu-law"
	case 0x55:
		return "MP3"
	}
	return fmt.Sprintf("coding %#x", tag)
}

// converters turn raw little-endian samples into values, full scale 1.
var converters = map[[2]int]func(raw []byte, dst []float64){
	{wavePCM, 1}: func(raw []byte, dst []float64) {
		for i := range dst {
			dst[i] = (float64(raw[i]) - 128) / 128
		}
	},
	{wavePCM, 2}: func(raw []byte, dst []float64) {
		for i := range dst {
			dst[i] = float64(int16(binary.LittleEndian.Uint16(raw[2*i:]))) / (1 << 15)
		}
	},
	{wavePCM, 3}: func(raw []byte, dst []float64) {
		for i := range dst {
			v := int32(uint32(raw[3*i])<<8 | uint32(raw[3*i+1])<<16 | uint32(raw[3*i+2])<<24)
			dst[i] = float64(v) / (1 << 31)
		}
	},
	{wavePCM, 4}: func(raw []byte, dst []float64) {
		for i := range dst {
			dst[i] = float64(int32(binary.LittleEndian.Uint32(raw[4*i:]))) / (1 << 31)
		}
	},
	{waveFloat, 4}: func(raw []byte, dst []float64) {
		for i := range dst {
			dst[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:])))
		}
	},
	{waveFloat, 8}: func(raw []byte, dst []float64) {
		for i := range dst {
			dst[i] = math.Float64frombits(binary.LittleEndian.Uint64(raw[8*i:]))
		}
	},
}

// begin settles how many bytes of sound to expect. Recorders that write as
// they go leave 0 or all ones in the size; then the file's end decides.
func (w *wavDecoder) begin(br *bufio.Reader, size, size64 int64) decoder {
	w.left = size
	if size == math.MaxUint32 && size64 >= 0 {
		w.left = size64
	}
	next, _ := br.Peek(4) // at the end of the file there is none
	if size == 0 && string(next) != "LIST" || w.left == math.MaxUint32 {
		w.left = -1
	}
	frame := int64(w.size * w.head.channels)
	if w.left > 0 {
		w.head.frames = w.left / frame
	}
	w.raw = make([]byte, blockFrames*frame)
	return w
}

func (w *wavDecoder) header() header { return w.head }

func (w *wavDecoder) next(dst []float64) (int, error) {
	frame := w.size * w.head.channels
	want := min(len(w.raw), len(dst)/w.head.channels*frame)
	if w.left >= 0 {
		want = int(min(int64(want), w.left/int64(frame)*int64(frame)))
	}
	if want == 0 {
		return 0, io.EOF
	}
	got, err := io.ReadFull(w.r, w.raw[:want])
	n := got / frame * w.head.channels
	w.convert(w.raw, dst[:n])
	if w.left < 0 {
		if errors.Is(err, io.ErrUnexpectedEOF) {
			err = io.EOF
		}
		return n, err
	}
	w.left -= int64(got)
	if err != nil && (errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)) {
		err = errors.Join(errCutShort, io.ErrUnexpectedEOF)
	}
	return n, err
}
