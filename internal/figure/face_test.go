package figure

import (
	"bytes"
	"image/png"
	"math"
	"strings"
	"testing"
)

// A diamond 20 cm right and 10 cm up on a face shown ±40 cm stands at three
// quarters of the width and at 37.5 % of the height from the top: the picture
// is measured by its own pixels.
func TestFacePlaces(t *testing.T) {
	f := Face{Title: "t", Finding: "f", Half: 0.4, Places: []Place{{Name: "bare", Shape: Diamond, X: 0.2, Y: 0.1}}}
	var out bytes.Buffer
	if err := f.Write(&out, "png", 60); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&out)
	if err != nil {
		t.Fatal(err)
	}
	var x, y, n float64
	b := img.Bounds()
	for j := b.Min.Y; j < b.Max.Y; j++ {
		for i := b.Min.X; i < b.Max.X; i++ {
			if r, g, bl, _ := img.At(i, j).RGBA(); r+g+bl < 3*0xc000 {
				x, y, n = x+float64(i), y+float64(j), n+1
			}
		}
	}
	x, y = x/n/float64(b.Dx()), y/n/float64(b.Dy())
	if math.Abs(x-0.75) > 0.01 || math.Abs(y-0.375) > 0.01 {
		t.Errorf("the diamond stands at %.3f, %.3f of the picture", x, y)
	}
	if err := f.Write(&out, "gif", 60); err == nil {
		t.Error("a gif was drawn")
	}
	f.Places[0].X = math.NaN()
	if err := f.Write(&out, "svg", 60); err == nil || !strings.Contains(err.Error(), "bare") {
		t.Errorf("nowhere was drawn: %v", err)
	}
}
