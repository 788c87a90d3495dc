package e2e

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// sheetSpan is how much of a picture the board shows, its longest side being 1
// (web/src/photo/picture.ts).
const sheetSpan = 1.02

// leaning is a pinhole camera before a face, turned and tilted: pixels of a
// picture from metres on the face.
type leaning struct{ f, away, cx, cy, yaw, pitch float64 }

func (c leaning) pixel(x, y float64) (px, py float64) {
	// The face is turned about its upright, then tilted about the level.
	x1, z1 := x*math.Cos(c.yaw), -x*math.Sin(c.yaw)
	y2, z2 := y*math.Cos(c.pitch)-z1*math.Sin(c.pitch), y*math.Sin(c.pitch)+z1*math.Cos(c.pitch)
	return c.cx + c.f*x1/(c.away+z2), c.cy - c.f*y2/(c.away+z2)
}

// face undoes pixel by Newton's steps, from differences.
func (c leaning) face(px, py float64) (x, y float64) {
	for range 6 {
		const h = 1e-5
		u, v := c.pixel(x, y)
		ux, vx := c.pixel(x+h, y)
		uy, vy := c.pixel(x, y+h)
		a, b, d, e := (ux-u)/h, (uy-u)/h, (vx-v)/h, (vy-v)/h
		det := a*e - b*d
		x, y = x+(e*(px-u)-b*(py-v))/det, y+(a*(py-v)-d*(px-u))/det
	}
	return x, y
}

// photographed writes a picture of a 122 cm face with holes; the holes are of
// a colour that no face has, so that the test can see where they are shown.
func photographed(t testing.TB, c leaning, wide, high int) string {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, wide, high))
	for py := range high {
		for px := range wide {
			var sum [3]float64
			for _, d := range [][2]float64{{-0.25, -0.25}, {0.25, -0.25}, {-0.25, 0.25}, {0.25, 0.25}} {
				s := paperAt(c.face(float64(px)+d[0], float64(py)+d[1]))
				for k := range sum {
					sum[k] += s[k] / 4
				}
			}
			img.SetRGBA(px, py, color.RGBA{uint8(sum[0]), uint8(sum[1]), uint8(sum[2]), 255})
		}
	}
	return onItsSide(t, img)
}

// onItsSide writes a picture as a phone held upright does: a JPEG that lies on
// its side, with a note to turn it (Exif 2.3, orientation 6: a quarter turn
// clockwise; recalled), and with where it was taken.
func onItsSide(t testing.TB, img *image.RGBA) string {
	t.Helper()
	wide, high := img.Rect.Dx(), img.Rect.Dy()
	lying := image.NewRGBA(image.Rect(0, 0, high, wide))
	for y := range high {
		for x := range wide {
			lying.SetRGBA(y, wide-1-x, img.RGBAAt(x, y))
		}
	}
	var packed bytes.Buffer
	if err := jpeg.Encode(&packed, lying, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	note := cameraNote()
	segment := append([]byte{0xff, 0xe1, 0, byte(len(note) + 2)}, note...)
	path := filepath.Join(t.TempDir(), "face.jpg")
	if err := os.WriteFile(path, slices.Insert(packed.Bytes(), 2, segment...), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// What a camera writes about itself and where it stood: the camera's name, and
// the seconds of a latitude as an unusual fraction.
const (
	cameraName = "Pinhole of nobody 4711"
	tellsPlace = "\x07\x5b\xcd\x15\x00\x98\x96\x80"
)

// cameraNote is an Exif segment: maker, orientation 6, and a position (Exif
// 2.3, tags 0x010f, 0x0112, 0x8825 with 1 to 4; recalled).
func cameraNote() []byte {
	be := binary.BigEndian
	entry := func(b []byte, tag, kind uint16, count, value uint32) []byte {
		return be.AppendUint32(be.AppendUint32(be.AppendUint16(be.AppendUint16(b, tag), kind), count), value)
	}
	const maker, position = 8 + 2 + 3*12 + 4, 8 + 2 + 3*12 + 4 + 24
	const latitude = position + 2 + 4*12 + 4
	b := []byte("MM\x00*\x00\x00\x00\x08\x00\x03")
	b = entry(b, 0x010f, 2, uint32(len(cameraName)+1), maker)
	b = entry(b, 0x0112, 3, 1, 6<<16)
	b = entry(b, 0x8825, 4, 1, position)
	b = append(be.AppendUint32(b, 0), cameraName+"\x00\x00"...)
	b = be.AppendUint16(b, 4)
	b = entry(b, 1, 2, 2, 'N'<<24)
	b = entry(b, 2, 5, 3, latitude)
	b = entry(b, 3, 2, 2, 'E'<<24)
	b = entry(b, 4, 5, 3, latitude)
	b = be.AppendUint32(b, 0)
	for _, v := range []uint32{48, 1, 7, 1} {
		b = be.AppendUint32(b, v)
	}
	return append([]byte("Exif\x00\x00"), append(b, tellsPlace...)...)
}

func paperAt(x, y float64) [3]float64 {
	for _, h := range holes {
		if math.Hypot(x-h[0], y-h[1]) < 0.006 {
			return [3]float64{255, 0, 255}
		}
	}
	rings := [][3]float64{{240, 205, 50}, {205, 60, 60}, {50, 150, 205}, {40, 40, 45}, {235, 235, 230}}
	r := math.Hypot(x, y)
	switch k := int(r / 0.061); {
	case k < 10 && k%2 == 1 && math.Mod(r, 0.061) < 0.002:
		return [3]float64{90, 90, 90} // the line inside a colour
	case k < 10:
		return rings[k/2]
	case max(math.Abs(x), math.Abs(y)) < 0.64:
		return rings[4]
	}
	return [3]float64{170, 145, 95}
}

// aimed brings the cross in the magnifier to a place of what the board shows,
// so many metres (or sheets) wide, and lifts.
func (f *thumb) aimed(span, x, y float64) {
	f.b.inSight()
	b, face := f.b, f.b.board()
	px, py := math.Round(face.Left+face.Size/2+x*face.Size/span), math.Round(face.Top+face.Size/2-y*face.Size/span)
	f.down(px, py)
	for range 3 {
		ax, ay := b.aim()
		px, py = px+math.Round((x-ax)*4*face.Size/span), py-math.Round((y-ay)*4*face.Size/span)
		f.slide(px, py)
	}
	f.lift()
}

// inSight scrolls the board to where a thumb reaches all of it.
func (b *browser) inSight() {
	b.t.Helper()
	b.do("scroll to the board", waitFor(`(document.querySelector(".board-face").scrollIntoView({block: "end", behavior: "instant"}), true)`), calm())
}

// shownHoles finds the holes in the picture on the board by their colour, and
// gives their places in metres, sorted like the holes they are nearest to.
func (b *browser) shownHoles() [][2]float64 {
	b.t.Helper()
	seen, err := chromedp.Run(b.ctx, chromedp.Evaluate[[][]float64](`(() => {
		const c = document.querySelector(".photo .board-canvas"), d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data, clumps = [];
		for (let y = 0; y < c.height; y++) for (let x = 0; x < c.width; x++) {
			const at = 4 * (y * c.width + x), w = Math.min(d[at], d[at + 2]) - d[at + 1] - 60;
			if (w <= 0) continue;
			const near = clumps.find((k) => Math.hypot(k[0] / k[2] - x, k[1] / k[2] - y) < 0.03 * c.width) ?? (clumps.push([0, 0, 0]), clumps.at(-1));
			near[0] += w * x; near[1] += w * y; near[2] += w;
		}
		return clumps.filter((k) => k[2] > 200).map((k) => [(k[0] / k[2] + 0.5) / c.width, (k[1] / k[2] + 0.5) / c.height]);
	})()`))
	if err != nil {
		b.t.Fatal(err)
	}
	var found [][2]float64
	for _, h := range holes {
		for _, s := range seen {
			x, y := (s[0]-0.5)*shownSpan, (0.5-s[1])*shownSpan
			if math.Hypot(x-h[0], y-h[1]) < 0.02 {
				found = append(found, [2]float64{x, y})
			}
		}
	}
	if len(found) != len(holes) {
		b.t.Fatalf("the picture shows %d holes near where %d arrows hit: %v", len(found), len(holes), seen)
	}
	return found
}

// TestPlotFromPhoto plots an end from a picture taken from the side and from
// below: the rings are found by a tap on the gold, the top of the face says
// what is upright, and the holes are tapped where the picture, seen from
// straight ahead, shows them. A reload in the middle, with the server gone,
// loses neither the picture nor an arrow.
func TestPlotFromPhoto(t *testing.T) {
	n, b := openPlot(t)
	b.do("a phone's sharp screen", chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch, chromedp.EmulateScale(3)))
	camera := leaning{f: 1400, away: 2.2, cx: 600, cy: 450, yaw: 0.42, pitch: -0.25} // 28 degrees altogether
	sheet := func(x, y float64) (float64, float64) {
		px, py := camera.pixel(x, y)
		return (px + 0.5 - 600) / 1200, (450 - py - 0.5) / 1200
	}
	f := &thumb{b: b}
	b.tap("From a photo")
	b.see("Take or choose a picture")
	b.accessible("choosing a picture")
	text := filepath.Join(t.TempDir(), "face.heic")
	if err := os.WriteFile(text, []byte("no picture"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.upload("Photo of the face", text)
	b.see("cannot read that picture")
	b.upload("Photo of the face", photographed(t, camera, 1200, 900))
	b.see("Tap the middle of the face")
	x, y := sheet(-0.5, -0.4) // in the black: no gold there
	f.aimed(sheetSpan, x, y)
	b.see("Tap inside the gold")
	x, y = sheet(0.02, -0.01)
	f.aimed(sheetSpan, x, y)
	b.see("The rings fit the picture to")
	b.shot("rings")
	b.accessible("the rings found")
	b.fits("the rings found")
	b.do("the pages are kept on the device", waitFor("navigator.serviceWorker.controller"))
	b.tap("The rings lie right")
	b.see("straight above the middle")
	n.kill()
	b.do("reload without a server", onDisk(), chromedp.Reload())
	b.see("straight above the middle")
	b.do("the picture is there again", waitFor(`document.querySelector(".photo .board-face")`), calm())
	x, y = sheet(0, 0.61)
	f.aimed(sheetSpan, x, y)
	b.do("it is seen from straight ahead", waitFor(`document.querySelector(".photo [data-residual]") && document.body.innerText.includes("Look at the rings again")`), calm())
	shown := b.shownHoles()
	rng := rand.New(rand.NewPCG(3, 122))
	for i, h := range shown {
		b.inSight()
		f.place(h[0], h[1], rng)
		b.plotted(i + 1)
	}
	b.shot("straight")
	n.start()
	b.tap("End done")
	b.sent()
	end := n.ends("bow=" + plotBow)[0].End
	worst := 0.0
	for i, hit := range end.Impacts {
		off := math.Hypot(*hit.X-holes[i][0], *hit.Y-holes[i][1])
		if worst = max(worst, off); off > 0.004 {
			t.Errorf("arrow %d is stored %.2f mm from where it hit, more than 4 mm", i+1, 1e3*off)
		}
	}
	t.Logf("worst place %.2f mm off", 1e3*worst)
	b.do("the next end has no picture", waitFor(`!document.querySelector(".photo")`))
	b.fault()
}

// TestPhotoByKeyboard marks two rings by hand with the keyboard alone, in
// every theme free of faults that axe-core knows.
func TestPhotoByKeyboard(t *testing.T) {
	_, b := openPlot(t)
	camera := leaning{f: 1250, away: 2.2, cx: 600, cy: 450, yaw: 0.3, pitch: 0.2}
	b.tap("From a photo")
	b.upload("Photo of the face", photographed(t, camera, 1200, 900))
	b.see("Tap the middle of the face")
	press := func(button string) {
		b.do("focus "+button, waitFor(`(() => { const e = [...document.querySelectorAll("button")].find((e) => e.innerText.includes("`+button+`")); e?.focus(); return e && document.activeElement === e; })()`))
		b.do("press "+button, chromedp.KeyEvent(kb.Enter))
	}
	press("Mark two rings by hand")
	b.see("Tap five places or more")
	mark := func(r float64) {
		for k := range 5 {
			px, py := camera.pixel(r*math.Cos(float64(k)*1.25), r*math.Sin(float64(k)*1.25))
			b.do("focus the picture", chromedp.Focus(chromedp.CSS(".board-face")))
			for axis, v := range []float64{(px + 0.5 - 600) / 1200, (450 - py - 0.5) / 1200} {
				more, less := kb.ArrowRight, kb.ArrowLeft
				if axis == 1 {
					more, less = kb.ArrowUp, kb.ArrowDown
				}
				if v < 0 {
					more = less
				}
				steps := int(math.Round(1000 * math.Abs(v)))
				for range steps / 100 {
					b.do("go far", chromedp.KeyEvent(more+more+more+more+more+more+more+more+more+more))
				}
				for range steps % 100 / 10 {
					b.do("go", chromedp.KeyEvent(more))
				}
				for range steps % 10 {
					b.do("go little", chromedp.KeyEvent(more, chromedp.KeyModifiers(chromedp.ModifierShift)))
				}
			}
			b.do("mark", chromedp.KeyEvent(kb.Enter))
			b.do("move the focus", waitFor(`(document.activeElement.blur(), true)`)) // the cross begins at the middle again
		}
	}
	mark(0.366)
	b.see("5 of 5")
	b.do("the outer ring", waitFor(`(() => { const e = [...document.querySelectorAll(".hand button")].filter((e) => e.innerText.includes("Tap this ring"))[1]; e?.focus(); return e && document.activeElement === e; })()`), chromedp.KeyEvent(kb.Enter))
	mark(0.61)
	b.see("The rings fit the picture to")
	b.shot("by-hand")
	themes(b, "rings by hand")
	press("The rings lie right")
	press("The picture is upright as it is")
	b.see("Look at the rings again")
	b.accessible("seen from straight ahead")
	b.fits("seen from straight ahead")
	b.shot("by-hand-straight")
	b.fault()
}
