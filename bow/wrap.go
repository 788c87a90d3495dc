package bow

import "math"

// Wrap is the path of a taut string from a free point (the nock or any string
// node) to the limb's tip, round whatever contact points it touches. Make one
// with NewWrap and reuse it: Trace allocates nothing.
//
// Pieces run outward: piece 0 leaves the free point, the last one ends at the
// tip. Touch[k] is the contact point at the outer end of piece k; First is
// Touch[0].
type Wrap struct {
	Length float64   // whole path, m
	First  int       // index of the first contact point touched
	Touch  []int     // contact points touched, the tip last
	Ex, Ey []float64 // unit vector of each piece, outward
	Piece  []float64 // length of each piece, m
}

// NewWrap returns a Wrap with room for paths over the given number of contact
// points.
func NewWrap(points int) *Wrap {
	return &Wrap{
		Touch: make([]int, 0, points), Ex: make([]float64, 0, points),
		Ey: make([]float64, 0, points), Piece: make([]float64, 0, points),
	}
}

// Trace finds the shortest path from (hx, hy) to the last of the points px, py
// (root first, tip last) that leaves every point at or above the start on its
// far side from the archer (eq. 8): gift wrapping, always turning as far
// toward the archer as the next points demand.
func (w *Wrap) Trace(hx, hy float64, px, py []float64) {
	w.Touch, w.Ex, w.Ey, w.Piece = w.Touch[:0], w.Ex[:0], w.Ey[:0], w.Piece[:0]
	w.Length = 0
	tip := len(px) - 1
	py = py[:len(px)]
	low := tip
	for low > 0 && py[low-1] > hy {
		low--
	}
	x, y := hx, hy
	for at := low - 1; at < tip; {
		best := tip
		bx, by := px[tip]-x, py[tip]-y
		for j := tip - 1; j > at; j-- {
			dx, dy := px[j]-x, py[j]-y
			// the point lies on the archer's side of the best line so far
			if dx*by-dy*bx > 0 {
				best, bx, by = j, dx, dy
			}
		}
		l := math.Sqrt(bx*bx + by*by)
		w.Touch = append(w.Touch, best)
		w.Piece = append(w.Piece, l)
		w.Ex, w.Ey = append(w.Ex, bx/l), append(w.Ey, by/l)
		w.Length += l
		x, y, at = px[best], py[best], best
	}
	w.First = w.Touch[0]
}

// Points writes the contact points for link angles theta and the root at
// (rx, ry) into px and py, each as long as Contacts.
func (c *Chain) Points(theta []float64, rx, ry float64, px, py []float64) {
	j := 0
	for i, th := range theta[:c.N] {
		sin, cos := math.Sincos(th)
		l := c.Len[i]
		for j < len(c.Contacts) && c.Contacts[j].Link == i {
			f, o := c.Contacts[j].F*l, c.Contacts[j].O
			px[j] = rx + f*sin + o*cos
			py[j] = ry + f*cos - o*sin
			j++
		}
		rx, ry = rx+l*sin, ry+l*cos
	}
}
