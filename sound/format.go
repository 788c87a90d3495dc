package sound

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// Format names the coding of a recording, as its first bytes say. The name of
// the file plays no part.
type Format string

// The formats that are decoded.
const (
	WAV    Format = "WAV"
	FLAC   Format = "FLAC"
	Vorbis Format = "Ogg Vorbis"
	Opus   Format = "Opus"
	MP3    Format = "MP3"
)

// sniffLength is how many first bytes a file is judged by: the largest need
// is an Ogg page with a 255-entry segment table and the codec's mark.
const sniffLength = 512

// Sniff says what the first bytes of a file (512 are enough) belong to, or
// returns a FileError that names what they look like and the formats to use.
func Sniff(head []byte) (Format, error) {
	switch {
	case len(head) == 0:
		return "", &FileError{Code: CodeEmpty, Field: "file", Reason: "it is empty (0 bytes)", Hint: "record again"}
	case len(head) >= 12 && isWaveHead(head):
		return WAV, nil
	case bytes.HasPrefix(head, []byte("fLaC")):
		return FLAC, nil
	case bytes.HasPrefix(head, []byte("OggS")):
		return sniffOgg(head)
	case bytes.HasPrefix(head, []byte("ID3")):
		return MP3, nil
	case len(head) >= 4 && isMP3Header(binary.BigEndian.Uint32(head)):
		return MP3, nil
	}
	return "", unsupported(head)
}

func isWaveHead(head []byte) bool {
	id := string(head[:4])
	return (id == "RIFF" || id == "RF64" || id == "BW64") && string(head[8:12]) == "WAVE"
}

// sniffOgg looks into the first page for the codec's mark.
func sniffOgg(head []byte) (Format, error) {
	body := head
	if len(head) > 27 && len(head) > 27+int(head[26]) {
		body = head[27+int(head[26]):]
	}
	switch {
	case bytes.HasPrefix(body, []byte("\x01vorbis")):
		return Vorbis, nil
	case bytes.HasPrefix(body, []byte("OpusHead")):
		return Opus, nil
	case bytes.HasPrefix(body, []byte("\x7fFLAC")):
		return "", refuse("FLAC inside Ogg")
	case bytes.HasPrefix(body, []byte("Speex   ")):
		return "", refuse("Speex")
	case bytes.HasPrefix(body, []byte("\x80theora")), bytes.HasPrefix(body, []byte("fishead")):
		return "", refuse("Ogg video")
	}
	return "", damaged("Ogg", nil, "its first page names no codec that is known here")
}

// isMP3Header tells whether a word can start an MPEG layer III frame.
func isMP3Header(word uint32) bool {
	sync, layer := word>>21, word>>17&3
	version, bitrate, rate := word>>19&3, word>>12&15, word>>10&3
	return sync == 0x7ff && layer == 1 && version != 1 && bitrate != 0 && bitrate != 15 && rate != 3
}

// lookalikes are files people pick by mistake, and sound files that are not
// decoded here.
var lookalikes = []struct {
	offset int
	mark   string
	name   string
}{
	{0, "\xff\xd8\xff", "a JPEG picture"},
	{0, "\x89PNG", "a PNG picture"},
	{0, "GIF8", "a GIF picture"},
	{0, "%PDF", "a PDF document"},
	{0, "PK\x03\x04", "a zip archive"},
	{4, "ftyp", "an MP4 or M4A (AAC) file"},
	{0, "\x1aE\xdf\xa3", "a WebM or Matroska file"},
	{0, "FORM", "an AIFF file"},
	{0, "caff", "a Core Audio file"},
	{0, "#!AMR", "an AMR file"},
	{0, "\xff\xf1", "an AAC file"},
	{0, "\xff\xf9", "an AAC file"},
	{0, "\x30\x26\xb2\x75", "a Windows Media file"},
	{0, "RIFX", "a big-endian RIFF file"},
	{0, "riff\x2e\x91\xcf\x11", "a Wave64 file"},
	{8, "AVI ", "an AVI video"},
	{8, "WEBP", "a WebP picture"},
}

func unsupported(head []byte) error {
	for _, l := range lookalikes {
		if len(head) >= l.offset && bytes.HasPrefix(head[l.offset:], []byte(l.mark)) {
			return refuse(l.name)
		}
	}
	return &FileError{
		Code: CodeUnknown, Field: "file",
		Reason: fmt.Sprintf("its first bytes (% x) belong to no sound file known here", head[:min(len(head), 4)]),
		Hint:   hintFormats,
	}
}

func refuse(name string) error {
	return &FileError{
		Code: CodeUnsupported, Field: "file",
		Reason: "this is " + name + ", which is not decoded here",
		Hint:   hintFormats + ", or open it in the browser page, which converts what the phone can play",
	}
}
