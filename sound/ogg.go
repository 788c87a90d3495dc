package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
)

// oggReader takes the packets of the first stream out of an Ogg file
// (RFC 3533). Pages whose checksum is wrong are refused, packets are bounded.
type oggReader struct {
	r      *bufio.Reader
	serial uint32
	opened bool
	page   []byte // body of the current page
	lacing []byte // segment lengths not yet used
	carry  []byte // start of a packet that goes on in the next page

	granule int64 // position stamped on the current page; −1 if it ends no packet
	last    bool  // the current page is the stream's last
}

// maxOggPacket bounds a packet: Opus allows 61,440 bytes, the set-up headers
// of Vorbis stay far below 64 KiB in practice.
const maxOggPacket = 1 << 18

// packet returns the next packet. ends tells that it is the last one that
// ends on its page, so that the page's granule position applies to it.
func (o *oggReader) packet() (data []byte, ends bool, err error) {
	data, o.carry = o.carry, nil
	for {
		for len(o.lacing) == 0 {
			if o.last {
				return nil, false, io.EOF
			}
			if err := o.nextPage(len(data) > 0); err != nil {
				return nil, false, err
			}
		}
		n := int(o.lacing[0])
		o.lacing = o.lacing[1:]
		data = append(data, o.page[:n]...)
		o.page = o.page[n:]
		if len(data) > maxOggPacket {
			return nil, false, errors.New("a packet is too long")
		}
		if n < 255 {
			return data, !o.endsLater(), nil
		}
	}
}

// endsLater tells whether a further packet ends on the current page.
func (o *oggReader) endsLater() bool {
	for _, n := range o.lacing {
		if n < 255 {
			return true
		}
	}
	return false
}

// nextPage reads the next page of our stream, passing over other streams.
func (o *oggReader) nextPage(continued bool) error {
	for {
		serial, flags, err := o.readPage()
		if err != nil {
			return err
		}
		if !o.opened {
			o.serial, o.opened = serial, true
		}
		if serial != o.serial {
			o.lacing = nil
			continue
		}
		if continued != (flags&1 != 0) {
			return errors.New("a page is missing")
		}
		o.last = flags&4 != 0
		return nil
	}
}

func (o *oggReader) readPage() (serial uint32, flags byte, err error) {
	var head [27 + 255]byte
	if _, err := io.ReadFull(o.r, head[:27]); err != nil {
		return 0, 0, pageEnd(err)
	}
	if string(head[:4]) != "OggS" || head[4] != 0 {
		return 0, 0, errors.New("a page does not begin where it should")
	}
	segments := int(head[26])
	if _, err := io.ReadFull(o.r, head[27:27+segments]); err != nil {
		return 0, 0, noEOF(err)
	}
	o.lacing = append(o.lacing[:0], head[27:27+segments]...)
	size := 0
	for _, n := range o.lacing {
		size += int(n)
	}
	o.page = make([]byte, size)
	if _, err := io.ReadFull(o.r, o.page); err != nil {
		return 0, 0, noEOF(err)
	}
	want := binary.LittleEndian.Uint32(head[22:])
	clear(head[22:26])
	if oggCRC(oggCRC(0, head[:27+segments]), o.page) != want {
		return 0, 0, errors.New("the checksum of a page is wrong")
	}
	o.granule = int64(binary.LittleEndian.Uint64(head[6:]))
	return binary.LittleEndian.Uint32(head[14:]), head[5], nil
}

// pageEnd: a file that stops between pages before the stream's last page is
// cut short.
func pageEnd(err error) error { return errors.Join(errCutShort, noEOF(err)) }

func noEOF(err error) error {
	if errors.Is(err, io.EOF) {
		return io.ErrUnexpectedEOF
	}
	return err
}

// oggCRC continues the page checksum: polynomial 0x04c11db7, high bit first,
// no inversion (RFC 3533 section 6).
func oggCRC(crc uint32, data []byte) uint32 {
	for _, b := range data {
		crc = crc<<8 ^ oggTable[byte(crc>>24)^b]
	}
	return crc
}

var oggTable = func() (t [256]uint32) {
	for i := range t {
		r := uint32(i) << 24
		for range 8 {
			if r&(1<<31) != 0 {
				r = r<<1 ^ 0x04c11db7
			} else {
				r <<= 1
			}
		}
		t[i] = r
	}
	return t
}()

// oggTrim hands decoded frames out between the stream's true first and last
// frame: encoders say by the granule positions how many frames of padding to
// drop at both ends.
type oggTrim struct {
	skip  int64 // frames still to drop at the start
	given int64 // frames handed out
	buf   []float64
	at    int
}

func (t *oggTrim) put(v []float64, channels int) {
	drop := min(t.skip, int64(len(v)/channels))
	t.skip -= drop
	t.buf, t.at = v[drop*int64(channels):], 0
}

// cut drops what lies beyond total frames of the stream.
func (t *oggTrim) cut(total int64, channels int) {
	have := int64(len(t.buf)-t.at) / int64(channels)
	if keep := max(total-t.given, 0); keep < have {
		t.buf = t.buf[:t.at+int(keep)*channels]
	}
}

func (t *oggTrim) take(dst []float64, channels int) int {
	n := copy(dst[:len(dst)-len(dst)%channels], t.buf[t.at:])
	t.at += n
	t.given += int64(n / channels)
	return n
}

func (t *oggTrim) empty() bool { return t.at >= len(t.buf) }

// playable clips what a lossy codec overshoots beyond full scale, as every
// player does, so that all formats share one full scale.
func playable(x float64) float64 { return max(-1, min(1, x)) }
