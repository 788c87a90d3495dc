package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/evanw/esbuild/pkg/api"
)

// heicReader is the pages' own reader of HEIC, running in node.
type heicReader struct {
	t      testing.TB
	script string
	wasm   string
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Reader
}

// heicSaid is a picture, or why there is none.
type heicSaid struct {
	Width, Height int
	Ms            float64
	Problem       string
	Pixels        []byte // RGBA
}

func openHeic(t testing.TB) *heicReader {
	t.Helper()
	if _, err := exec.LookPath("node"); err != nil {
		t.Skip("no node here, which runs what the pages run: install Debian's package nodejs")
	}
	wasm, err := heifWasm()
	if err != nil {
		t.Fatal(err)
	}
	h := &heicReader{t: t, script: filepath.Join(t.TempDir(), "check.mjs"), wasm: wasm}
	built := api.Build(api.BuildOptions{
		EntryPoints: []string{"../src/photo/heiccheck.ts"}, Outfile: h.script, Bundle: true, Write: true,
		Format: api.FormatESModule, Platform: api.PlatformNode, Target: api.ES2022,
	})
	if len(built.Errors) > 0 {
		t.Fatal(built.Errors[0].Text)
	}
	h.start()
	t.Cleanup(h.stop)
	return h
}

func (h *heicReader) start() {
	h.t.Helper()
	h.cmd = exec.Command("node", h.script, h.wasm)
	h.cmd.Stderr = os.Stderr
	in, err := h.cmd.StdinPipe()
	if err != nil {
		h.t.Fatal(err)
	}
	out, err := h.cmd.StdoutPipe()
	if err != nil {
		h.t.Fatal(err)
	}
	if err := h.cmd.Start(); err != nil {
		h.t.Fatal(err)
	}
	h.in, h.out = in, bufio.NewReaderSize(out, 1<<20)
}

func (h *heicReader) stop() {
	_ = h.cmd.Process.Kill() // it has nothing to lose
	_ = h.cmd.Wait()
}

// patienceOfPages is what a page waits for a picture; an input that takes
// longer is given up there (web/src/photo/heic.ts).
const patienceOfPages = 90 * time.Second

// read has one file read. stuck: it was given up, as a page would.
func (h *heicReader) read(t testing.TB, file []byte, pixels bool) (said heicSaid, stuck bool) {
	t.Helper()
	head := binary.BigEndian.AppendUint32(nil, uint32(len(file)))
	head = append(head, map[bool]byte{true: 1}[pixels])
	late := time.AfterFunc(patienceOfPages, func() { _ = h.cmd.Process.Kill() }) // the read below sees it
	_, err := h.in.Write(append(head, file...))
	if err != nil {
		t.Fatal("the reader is gone: ", err)
	}
	line, err := h.out.ReadBytes('\n')
	if !late.Stop() {
		_ = h.cmd.Wait()
		h.start()
		return heicSaid{}, true
	}
	if err != nil {
		t.Fatal("the reader broke: ", err)
	}
	if err := json.Unmarshal(line, &said); err != nil {
		t.Fatalf("%v in %.200s", err, line)
	}
	if said.Problem == "" && (said.Width < 64 || said.Height < 64 || said.Width*said.Height > 50_000_000) || strings.HasSuffix(said.Problem, "undefined") {
		t.Fatalf("a picture of %d by %d, %q", said.Width, said.Height, said.Problem)
	}
	return said, false
}

// sample is one of the pictures that the decoder's module is tested with.
func sample(t testing.TB, name string) []byte {
	t.Helper()
	wasm, err := heifWasm()
	if err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(filepath.Join(filepath.Dir(wasm), "..", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// changed replaces one box or field by another of the same length.
func changed(t testing.TB, raw []byte, from, to string, times int) []byte {
	t.Helper()
	if len(from) != len(to) || bytes.Count(raw, []byte(from)) != times {
		t.Fatalf("%q stands %d times in the picture, not %d", from, bytes.Count(raw, []byte(from)), times)
	}
	return bytes.ReplaceAll(raw, []byte(from), []byte(to))
}

// tiled is a picture as phones make it: a grid of nine tiles of 512 by 512,
// cut to 1346 by 1346, with an irot box that turns by nothing.
const (
	noTurn   = "\x00\x00\x00\x09irot\x00"
	tileSize = "ispe\x00\x00\x00\x00\x00\x00\x02\x00\x00\x00\x02\x00"
	wholeOne = "ispe\x00\x00\x00\x00\x00\x00\x05\x42\x00\x00\x05\x42"
)

// TestHeicAgainstAnother holds the pixels to those of another decoder: Debian's
// heif-convert, of the same library's older version built for this machine.
// The container's turns (irot: quarter turns against the clock, ISO/IEC
// 23008-12, 6.5.10; recalled) are held to the same pixels turned by the test.
func TestHeicAgainstAnother(t *testing.T) {
	h := openHeic(t)
	tiled := sample(t, "test.heic")
	plain := heifConverted(t, tiled)
	for turns := range 4 {
		said, _ := h.read(t, changed(t, tiled, noTurn, noTurn[:8]+string(rune(turns)), 1), true)
		sameHeic(t, fmt.Sprintf("%d quarter turns", turns), said, plain, func(x, y int) (int, int) { // in the plain picture
			w, v := plain.Bounds().Dx(), plain.Bounds().Dy()
			switch turns {
			case 1:
				return w - 1 - y, x
			case 2:
				return w - 1 - x, v - 1 - y
			case 3:
				return y, v - 1 - x
			}
			return x, y
		})
	}
	same := func(x, y int) (int, int) { return x, y }
	for _, axis := range []string{"\x00", "\x01"} {
		mirrored := changed(t, tiled, noTurn, "\x00\x00\x00\x09imir"+axis, 1)
		said, _ := h.read(t, mirrored, true)
		sameHeic(t, "mirrored", said, heifConverted(t, mirrored), same)
	}
	for _, name := range []string{"test8.heic", "test12.heic", "gray.heic"} {
		said, _ := h.read(t, sample(t, name), true)
		sameHeic(t, name, said, heifConverted(t, sample(t, name)), same)
	}
}

// heifConverted is a picture as Debian's heif-convert gives it.
func heifConverted(t *testing.T, raw []byte) image.Image {
	t.Helper()
	tool, err := exec.LookPath("heif-convert")
	if err != nil {
		t.Skip("no heif-convert to compare with: install Debian's package libheif-examples")
	}
	from, to := filepath.Join(t.TempDir(), "a.heic"), filepath.Join(t.TempDir(), "a.png")
	if err := os.WriteFile(from, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(tool, from, to).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	f, err := os.Open(to)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close() // only read
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// sameHeic demands the other decoder's pixels: on average within two of 255
// (the two blend colour between pixels differently), and no blotch.
func sameHeic(t *testing.T, what string, said heicSaid, want image.Image, at func(x, y int) (int, int)) {
	t.Helper()
	if said.Width != want.Bounds().Dx() || said.Height != want.Bounds().Dy() || len(said.Pixels) != 4*said.Width*said.Height {
		t.Fatalf("%s: %d by %d (%s), want %v", what, said.Width, said.Height, said.Problem, want.Bounds())
	}
	sum, far, n := 0.0, 0, 0
	for y := range said.Height {
		for x := range said.Width {
			u, v := at(x, y)
			r, g, b, _ := want.At(u, v).RGBA()
			for c, w := range []uint32{r, g, b} {
				off := math.Abs(float64(said.Pixels[4*(y*said.Width+x)+c]) - float64(w>>8))
				sum += off
				n++
				if off > 40 {
					far++
				}
			}
		}
	}
	t.Logf("%s: %.2f of 255 off on average, %.4f %% by more than 40", what, sum/float64(n), 100*float64(far)/float64(n))
	if sum/float64(n) > 2 || float64(far) > 0.002*float64(n) {
		t.Errorf("%s is another picture", what)
	}
}

// T19, T20: what a hostile picture declares is refused before it is decoded,
// what is cut short or goes in a ring is refused, and the decoder's memory has
// an end. A picture of more than 50 million pixels is told as such.
func TestHostileHeic(t *testing.T) {
	h := openHeic(t)
	tiled := sample(t, "test.heic")
	huge := func(w, v uint16) string {
		return string(binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16([]byte("ispe\x00\x00\x00\x00\x00\x00"), w), 0)) + string([]byte{byte(v >> 8), byte(v)})
	}
	for name, file := range map[string][]byte{
		"a picture of 400 million pixels": changed(t, tiled, wholeOne, huge(20000, 20000), 1),
		"a picture of 65,535 by 65,535":   changed(t, tiled, wholeOne, huge(65535, 65535), 1),
		"tiles of 65,535 by 65,535":       changed(t, tiled, tileSize, huge(65535, 65535), 1),
		"a grid whose tiles are itself":   ringed(t, tiled),
		"boxes in a ring of no length":    bytes.Repeat([]byte("\x00\x00\x00\x08meta"), 100_000),
		"a box of 4 GB":                   []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\xff\xff\xff\xffmeta"),
		"nothing":                         {},
		"a name alone":                    []byte("\x00\x00\x00\x10ftypheic\x00\x00\x00\x00"),
		"not HEIC":                        []byte("\x89PNG\r\n\x1a\n0123456789"),
	} {
		said, stuck := h.read(t, file, false)
		if stuck || said.Problem == "" || said.Ms > 3000 {
			t.Errorf("%s: %d by %d after %.0f ms, %q", name, said.Width, said.Height, said.Ms, said.Problem)
		}
		if name == "a picture of 400 million pixels" && !strings.Contains(said.Problem, "400 million pixels") {
			t.Errorf("%s is told as %q", name, said.Problem)
		}
	}
	for k := range 24 {
		if said, stuck := h.read(t, tiled[:k*len(tiled)/24], false); stuck || k < 12 && said.Problem == "" {
			t.Errorf("cut to %d of 24: %+v, stuck %v", k, said, stuck)
		}
	}
}

// ringed makes the grid's reference to its first tile one to itself.
func ringed(t *testing.T, raw []byte) []byte {
	return changed(t, raw, "dimg\x00\x0a\x00\x09\x00\x01", "dimg\x00\x0a\x00\x09\x00\x0a", 1)
}

// TestDamagedHeic breaks good pictures at random places: each gives a picture
// within the bounds, or a sentence. HEIC=n in the environment breaks n.
func TestDamagedHeic(t *testing.T) {
	h := openHeic(t)
	count := 60
	if _, err := fmt.Sscan(os.Getenv("HEIC"), &count); err != nil && os.Getenv("HEIC") != "" {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(20, 5))
	good, bad, late := 0, 0, 0
	for range count {
		raw := bytes.Clone(sample(t, []string{"test8.heic", "gray.heic", "test12.heic", "test.heic"}[rng.IntN(4)]))
		reach := len(raw)
		if rng.IntN(3) > 0 {
			reach = min(reach, 1000) // the boxes
		}
		for range 1 + rng.IntN(8) {
			raw[rng.IntN(reach)] = byte(rng.IntN(256))
		}
		switch said, stuck := h.read(t, raw, false); {
		case stuck:
			late++
		case said.Problem == "":
			good++
		default:
			bad++
		}
	}
	t.Logf("%d broken pictures: %d still read, %d refused, %d given up", count, good, bad, late)
	if good+bad == 0 || bad == 0 {
		t.Error("nothing was refused")
	}
}

// FuzzHEIC gives the pages' reader whatever the fuzzer thinks of. It runs in
// node, which the fuzzer cannot see into: what it learns is what breaks.
func FuzzHEIC(f *testing.F) {
	h := openHeic(f)
	for _, name := range []string{"test8.heic", "gray.heic"} {
		raw := sample(f, name)
		f.Add(raw[:1200]) // all boxes, and the start of the picture: the fuzzer copies its inputs often
	}
	f.Add([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\x00\x0cmeta\x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, raw []byte) { h.read(t, raw, false) })
}
