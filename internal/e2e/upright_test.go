package e2e

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/evanw/esbuild/pkg/api"
)

// TestPicturesStandUpright reads JPEGs with each of the eight orientations of
// Exif 2.3 (CIPA DC-008, tag 0x0112; recalled), a PNG and a WebP as the photo
// page does: the four quarters stand where they stood before the camera.
func TestPicturesStandUpright(t *testing.T) {
	t.Parallel()
	built := api.Build(api.BuildOptions{EntryPoints: []string{filepath.Join(root, "web/src/photo/picturecheck.ts")}, Bundle: true, Format: api.FormatIIFE, Target: api.ES2022, Plugins: []api.Plugin{noHeic}})
	if len(built.Errors) > 0 {
		t.Fatal(built.Errors[0].Text)
	}
	p := openPhone(t)
	b := p.b
	b.do("an empty page", chromedp.Navigate("about:blank"), chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		_, err := chromedp.Evaluate[bool](string(built.OutputFiles[0].Contents)+"; true")(ctx, tab)
		return err
	}))
	const want = "96x64 100 010 001 110" // red, green, blue, yellow
	scene := image.NewRGBA(image.Rect(0, 0, 96, 64))
	for y := range 64 {
		for x := range 96 {
			scene.SetRGBA(x, y, []color.RGBA{{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}, {255, 255, 0, 255}}[2*(y/32)+x/48])
		}
	}
	ask := func(what, call string) string {
		t.Helper()
		said, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](call, chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(what, ": ", err)
		}
		return said
	}
	read := func(what, packed, kind string) {
		t.Helper()
		if got := ask(what, fmt.Sprintf("reading.quarters(%q, %q)", packed, kind)); got != want {
			t.Errorf("%s reads as %s, want %s", what, got, want)
		}
	}
	for orientation := range 8 {
		var packed bytes.Buffer
		if err := jpeg.Encode(&packed, lain(scene, orientation+1), &jpeg.Options{Quality: 95}); err != nil {
			t.Fatal(err)
		}
		note := []byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00" + string(rune(orientation+1)) + "\x00\x00\x00\x00\x00\x00")
		with := slices.Insert(packed.Bytes(), 2, append([]byte{0xff, 0xe1, 0, byte(len(note) + 2)}, note...)...)
		read(fmt.Sprint("orientation ", orientation+1), base64.StdEncoding.EncodeToString(with), "image/jpeg")
	}
	var plain bytes.Buffer
	if err := png.Encode(&plain, scene); err != nil {
		t.Fatal(err)
	}
	text := base64.StdEncoding.EncodeToString(plain.Bytes())
	read("PNG", text, "image/png")
	read("a file whose kind nobody says", text, "")
	read("WebP", ask("to WebP", fmt.Sprintf("reading.asWebP(%q, 'image/png')", text)), "image/webp")
}

// noHeic leaves out the reader of HEIC, which has tests of its own.
var noHeic = api.Plugin{Name: "no HEIC", Setup: func(b api.PluginBuild) {
	b.OnResolve(api.OnResolveOptions{Filter: `heif\.wasm\.gz$`}, func(a api.OnResolveArgs) (api.OnResolveResult, error) {
		return api.OnResolveResult{Path: a.Path, Namespace: "none"}, nil
	})
	b.OnLoad(api.OnLoadOptions{Filter: ".*", Namespace: "none"}, func(api.OnLoadArgs) (api.OnLoadResult, error) {
		empty := "export default ''"
		return api.OnLoadResult{Contents: &empty}, nil
	})
}}

// lain gives the rows and columns as a camera stores them under an orientation:
// 1 as they are, 2 mirrored, 3 upside down, 4 that mirrored, 5 to 8 on a side.
func lain(scene *image.RGBA, orientation int) image.Image {
	wide, high := scene.Rect.Dx(), scene.Rect.Dy()
	size := image.Rect(0, 0, wide, high)
	if orientation > 4 {
		size = image.Rect(0, 0, high, wide)
	}
	out := image.NewRGBA(size)
	for y := range high {
		for x := range wide {
			u, v := x, y
			right, low := wide-1-x, high-1-y
			switch orientation { // where row 0 and column 0 of the file lie: top or bottom, left or right
			case 2:
				u = right
			case 3:
				u, v = right, low
			case 4:
				v = low
			case 5:
				u, v = y, x
			case 6:
				u, v = y, right
			case 7:
				u, v = low, right
			case 8:
				u, v = low, x
			}
			out.SetRGBA(u, v, scene.RGBAAt(x, y))
		}
	}
	return out
}
