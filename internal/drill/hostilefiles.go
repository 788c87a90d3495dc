//go:build unix

package drill

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"tautline/internal/drill/ways"
	"tautline/notebook"
)

// corpus is what D8 of the bars names, and what is like it.
func (h *hostileRun) corpus(ctx context.Context) ([]hostile, error) {
	out, err := crashers(ctx)
	out = append(out, wrongSounds()...)
	out = append(out, wrongTables()...)
	out = append(out, wrongTexts()...)
	return append(out, wrongPaths()...), err
}

// crashers are the inputs that made two decoders panic within seconds of
// fuzzing (F5), and every other that fuzzing has kept.
func crashers(ctx context.Context) (out []hostile, err error) {
	root, err := Root(ctx)
	if err != nil {
		return nil, err
	}
	names, err := filepath.Glob(filepath.Join(root, "sound", "testdata", "fuzz", "*", "*"))
	if err != nil {
		return nil, err
	}
	found := 0
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		_, line, _ := strings.Cut(string(text), "[]byte(")
		s, err := strconv.Unquote(strings.TrimSuffix(strings.TrimSpace(line), ")"))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		one := hostile{name: filepath.Base(name), sound: true, body: []byte(s)}
		if strings.HasSuffix(name, "-panic") {
			found++
			one.says = "Ogg|damaged"
		}
		out = append(out, one)
	}
	if found != 2 {
		err = errors.New("the two stored crashers are missing")
	}
	return out, err
}

// wrongSounds are files that lie about themselves, sent as recordings.
func wrongSounds() []hostile {
	le := binary.LittleEndian
	wav := func(change func([]byte)) []byte {
		b := Noise(dice1(), 480)
		change(b)
		return b
	}
	at := func(offset int, v uint32) func([]byte) { return func(b []byte) { le.PutUint32(b[offset:], v) } }
	jpeg := "\xff\xd8\xff\xe1\x00\x3aExif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x69\x87\x04\x00\x01\x00\x00\x00\x08\x00\x00\x00\x08\x00\x00\x00"
	heic := "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\xff\xff\xff\xffmeta" + strings.Repeat("\x00\x00\xff\xffispe\xff\xff\xff\xff\xff\xff\xff\xff", 200)
	list := []hostile{
		{name: "WAV that promises 4 GB", body: wav(at(40, 0xfffffff0))},
		{name: "WAV with a riff of 4 GB", body: wav(at(4, 0xffffffff))},
		{name: "WAV with a format chunk of 4 GB", body: wav(at(16, 0xffffffff)), says: "format chunk"},
		{name: "WAV of 65,535 channels", body: wav(func(b []byte) { le.PutUint16(b[22:], 0xffff) }), says: "channels"},
		{name: "WAV without channels", body: wav(func(b []byte) { le.PutUint16(b[22:], 0) }), says: "channels"},
		{name: "WAV at 4 GHz", body: wav(at(24, 4_000_000_000)), says: "Hz"},
		{name: "WAV at 0 Hz", body: wav(at(24, 0)), says: "Hz"},
		{name: "WAV of 0 bits", body: wav(func(b []byte) { le.PutUint16(b[34:], 0) }), says: "bit"},
		{name: "WAV of not-a-numbers", body: wav(func(b []byte) { le.PutUint16(b[20:], 3); le.PutUint16(b[34:], 32); fill(b[44:], 0xff) }), says: "NaN|not a number"},
		{name: "WAV of nothing", body: wav(func([]byte) {})[:44], says: "0 samples"},
		{name: "WAV of chunks in a ring", body: append([]byte("RIFF\xff\xff\xff\xffWAVE"), bytes.Repeat([]byte("LIST\x00\x00\x00\x00"), 100_000)...), says: "chunk"},
		{name: "FLAC of 8 lying channels", body: []byte("fLaC\x80\x00\x00\x22\x10\x00\x10\x00\x00\x00\x00\x00\x00\x00\x0a\xc4\x4e\xf0\x00\x00\x00\x00" + strings.Repeat("\x00", 16)), says: "channels"},
		{name: "FLAC with 16 MB of metadata", body: []byte("fLaC\x04\xff\xff\xff" + strings.Repeat("\xff", 1000)), says: "FLAC"},
		{name: "Ogg of empty pages", body: bytes.Repeat([]byte("OggS\x00\x00"+strings.Repeat("\x00", 21)), 20_000), says: "Ogg|Opus"},
		{name: "ID3 of 256 MB", body: []byte("ID3\x04\x00\x00\x7f\x7f\x7f\x7f" + strings.Repeat("\x00", 2000)), says: "MP3"},
		{name: "MP3 of headers alone", body: bytes.Repeat([]byte{0xff, 0xfb, 0x90, 0x00}, 50_000)},
		{name: "PNG of 65,535 by 65,535", body: bigPNG(), says: "PNG"},
		{name: "JPEG whose EXIF goes in a ring", body: []byte(jpeg + strings.Repeat("\x00", 400)), says: "JPEG"},
		{name: "HEIC with huge tiles", body: []byte(heic), says: "WAV"},
		{name: "zip bomb", body: bomb(1 << 28), says: "WAV"},
		{name: "zip in a zip in a zip", body: nested(8), says: "WAV"},
		{name: "10 MB of zeros", body: make([]byte, 10<<20), says: "WAV"},
		{name: "one byte", body: []byte{0}, says: "WAV"},
		{name: "text", body: []byte("brace height 22 cm\n"), says: "WAV"},
		{name: "a page with a script", body: []byte("<!doctype html><script>alert(1)</script>"), says: "WAV"},
	}
	for i := range list {
		list[i].sound = true
	}
	return append(list, hostile{name: "an empty recording", method: "PUT", path: "/api/v1/recordings/" + string(notebook.NewID()) + "/sound", kind: "audio/wav", says: "empty"})
}

// wrongTables are tables of arrows.
func wrongTables() []hostile {
	table := func(name, text, says string) hostile {
		return hostile{name: name, method: "POST", path: "/api/v1/ends/read-csv", kind: "text/csv", body: []byte(text), says: says}
	}
	return []hostile{
		table("a table of a million columns", strings.Repeat("x_cm,", 1_000_000)+"y_cm\n"+strings.Repeat("1,", 1_000_000)+"1\n", "line"),
		table("a table of one line of 8 MB", "end,ring\n"+strings.Repeat("9", 8<<20), "line|ring|number"),
		table("a quote that never ends", "end,ring\n1,\""+strings.Repeat("9,\n", 300_000), "quote|line"),
		table("NUL in a table", "end,arrow,x_cm,y_cm\n1,\x00,1,1\n", "line|NUL|character"),
		table("nothing but commas", strings.Repeat(",", 1<<20), "column|empty|head"),
		table("numbers beyond all", "end,arrow,x_cm,y_cm\n1,1,1e999,NaN\n", "line 2"),
		table("not text", "\x00\x01\xff\xfe"+strings.Repeat("\xff", 1000), "text|column|character|read"),
	}
}

// wrongTexts are records and texts with what breaks readers.
func wrongTexts() (out []hostile) {
	bow := func(name, body, says string) {
		out = append(out, hostile{name: name, method: "PUT", path: "/api/v1/bows/" + string(notebook.NewID()), kind: "application/json", body: []byte(body), says: says})
	}
	bow("NUL in a name", `{"name":"Blue\u0000 68","style":"recurve"}`, "name")
	bow("ESC in a name", `{"name":"Blue\u001b[2J 68","style":"recurve"}`, "")
	bow("a raw NUL in a body", "{\"name\":\"Blue\x00\",\"style\":\"recurve\"}", "character|JSON|body")
	bow("a body nested 400,000 deep", strings.Repeat(`{"name":`, 100_000)+strings.Repeat("[", 300_000), "JSON|deep|nest|body|name")
	bow("a name of 900 kB", `{"name":"`+strings.Repeat("x", 900_000)+`","style":"recurve"}`, "name")
	bow("a body of 4 MB", `{"name":"`+strings.Repeat("x", 4<<20)+`"}`, "large|MB|MiB|kB")
	bow("the same key 50,000 times", `{"name":"a"`+strings.Repeat(`,"name":"b"`, 50_000)+`}`, "")
	bow("half a surrogate", `{"name":"\ud800","style":"recurve"}`, "")
	bow("broken UTF-8", "{\"name\":\"\xff\xfe\",\"style\":\"recurve\"}", "")
	bow("the wrong kinds", `{"name":{"a":[1]},"style":17}`, "name|style")
	bow("null", `null`, "name|object|body")
	bow("nothing", ``, "body|JSON")
	for _, text := range []string{"1e999 mm", "9" + strings.Repeat("9", 400) + " m", "NaN lbf", "1/0 in", strings.Repeat("(", 5000), "\x00 mm", strings.Repeat("1 ", 20_000) + "in", "8 3/4/5/6 in", "--5 mm", "0x1p9999 m"} {
		out = append(out, hostile{name: fmt.Sprintf("the quantity %.20q", text), method: "POST", path: "/api/v1/units/parse", kind: "application/json", body: compact(obj{"text": text, "quantity": "length"}), says: "."})
	}
	for _, query := range []string{"limit=-1", "limit=9e9", "limit=1%00", "after=%ff%fe", "after=1'%20OR%201=1--", "bow=%00", "after=-9223372036854775809", strings.Repeat("a=1&", 2000), "limit=1&limit=2", "after=" + strings.Repeat("9", 4000)} {
		out = append(out, hostile{name: "a query", method: "GET", path: "/api/v1/readings?" + query})
	}
	return out
}

// wrongPaths are ways out of the notebook's folder, in 200 spellings and more.
func wrongPaths() (out []hostile) {
	places := []string{"/", "/api/v1/recordings/", "/sheets/setup/", "/help/errors/"}
	for i, way := range ways.Out() {
		out = append(out, hostile{name: "a way out", method: "GET", path: places[i%len(places)] + strings.ReplaceAll(way, "\\", "%5C")})
	}
	for _, hash := range []string{"../notebook.db", strings.Repeat("../", 21) + "a", "../../../../etc/passwd", strings.Repeat("A", 64), strings.Repeat("0", 64) + "/", "", ".", "\x00"} {
		out = append(out, hostile{name: fmt.Sprintf("the hash %.20q", hash), method: "PUT", path: "/api/v1/recordings/" + string(notebook.NewID()), kind: "application/json", body: compact(obj{"hash": hash}), says: "hash"})
	}
	return out
}

// hostileArchives are exports that are none, by what is wrong with them.
func hostileArchives() map[string]hostile {
	one := func(name, body string) []byte { return packed(entry{name: name, body: []byte(body)}) }
	cut := packed(entry{name: "notebook.json", body: []byte("[\n]\n")})
	many := make([]entry, 20_000)
	for i := range many {
		many[i] = entry{name: fmt.Sprintf("recordings/%064x", i), body: []byte{1}}
	}
	return map[string]hostile{
		"a way out":            {body: one("../../evil", "x"), says: "evil"},
		"an absolute name":     {body: one("/etc/evil", "x"), says: "evil"},
		"a backslash":          {body: one(`..\evil`, "x"), says: "evil"},
		"a NUL in a name":      {body: one("notebook.json\x00.txt", "x"), says: "notebook.json"},
		"a link":               {body: packed(entry{name: "notebook.json", body: []byte("/etc/passwd"), mode: fs.ModeSymlink | 0o777}), says: "notebook.json"},
		"a bomb":               {body: packed(entry{name: "notebook.json", body: make([]byte, 64<<20)}), says: "times its size"},
		"a lying size":         {body: lying(1 << 20), says: "notebook.json|damaged|zip|read"},
		"a zip inside":         {body: packed(entry{name: "recordings/bows.zip", body: nested(5)}), says: "bows.zip"},
		"20,000 files":         {body: packed(many...), says: "files"},
		"nothing in it":        {body: packed(), says: "notebook.json"},
		"no zip":               {body: []byte("PK\x03\x04 and then nothing"), says: "zip"},
		"half of it":           {body: cut[:len(cut)/2], says: "zip"},
		"no JSON":              {body: one("notebook.json", "[\n{\"kind\":\"bow\",\"record\":"+strings.Repeat("[", 200_000)), says: "line|JSON|read"},
		"a line of 20 MB":      {body: packed(entry{name: "notebook.json", body: []byte("[\n" + noise(20<<20)), stored: true}), says: "line|long|large|read"},
		"an unknown kind":      {body: one("notebook.json", "[\n{\"kind\":\"spell\",\"record\":{}}\n]\n"), says: "kind|spell"},
		"a record of nonsense": {body: one("notebook.json", "[\n{\"kind\":\"bow\",\"record\":{\"id\":\"../x\",\"name\":\"\\u0000\"}}\n]\n"), says: "line 2|id"},
	}
}

type entry struct {
	name   string
	body   []byte
	mode   fs.FileMode
	stored bool
}

func packed(entries ...entry) []byte {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, e := range entries {
		head := &zip.FileHeader{Name: e.name, Method: zip.Deflate}
		if e.stored {
			head.Method = zip.Store
		}
		if e.mode != 0 {
			head.SetMode(e.mode)
		}
		w, err := z.CreateHeader(head)
		if err == nil {
			_, err = w.Write(e.body)
		}
		if err != nil {
			panic(err) // into memory
		}
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return out.Bytes()
}

// bomb is a zip of zeros.
func bomb(size int) []byte { return packed(entry{name: "notebook.json", body: make([]byte, size)}) }

// nested is a zip inside a zip.
func nested(depth int) []byte {
	b := []byte("[]")
	for range depth {
		b = packed(entry{name: "bows.zip", body: b})
	}
	return b
}

// lying is a zip whose entry says that it unpacks to little, and does not.
func lying(size int) []byte {
	var squeezed bytes.Buffer
	w, err := flate.NewWriter(&squeezed, flate.BestCompression)
	if err == nil {
		_, err = w.Write(make([]byte, size))
	}
	if err := errors.Join(err, w.Close()); err != nil {
		panic(err)
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	raw, err := z.CreateRaw(&zip.FileHeader{Name: "notebook.json", Method: zip.Deflate, CompressedSize64: uint64(squeezed.Len()), UncompressedSize64: 100})
	if err == nil {
		_, err = io.Copy(raw, &squeezed)
	}
	if err := errors.Join(err, z.Close()); err != nil {
		panic(err)
	}
	return out.Bytes()
}

// bigPNG is a picture of 65,535 by 65,535 points in a few bytes.
func bigPNG() []byte {
	head := append([]byte("IHDR\x00\x00\xff\xff\x00\x00\xff\xff"), 8, 6, 0, 0, 0)
	b := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), head...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(head))
}

// dice1 is chance that is the same in every run.
func dice1() *rand.Rand { return rand.New(rand.NewPCG(1, 1)) }

func fill(b []byte, v byte) {
	for i := range b {
		b[i] = v
	}
}

// noise is text that does not compress.
func noise(n int) string {
	dice, b := dice1(), make([]byte, n)
	for i := range b {
		b[i] = byte(33 + dice.IntN(90))
	}
	return string(b)
}
