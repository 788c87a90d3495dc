package flight

import "math"

// ringing holds the squared speeds at the strips, and how they fade.
type ringing struct {
	n      int
	square [rings][strips]float64
	fade   [rings]float64 // factor over half a step
	sum    [3][strips]float64
}

// start lays the ringing on the strips.
func (f *Flyer) start(all []Ringing, step float64, r *ringing) {
	for _, one := range all {
		last := len(one.SquaredSpeed) - 1
		if r.n == rings || last < 1 {
			continue
		}
		for i, s := range f.share {
			x := s * float64(last)
			k := min(int(x), last-1)
			t := x - float64(k)
			r.square[r.n][i] = math.Max(0, one.SquaredSpeed[k]*(1-t)+one.SquaredSpeed[k+1]*t)
		}
		r.fade[r.n] = math.Exp(-one.Decay * step)
		r.n++
	}
	r.total(0)
}

// total sums the modes into slot i.
func (r *ringing) total(i int) {
	r.sum[i] = [strips]float64{}
	for m := range r.n {
		for s := range r.sum[i] {
			r.sum[i][s] += r.square[m][s]
		}
	}
}

// next moves the ringing on by a step: start, middle, end.
func (r *ringing) next() {
	r.sum[0] = r.sum[2]
	r.halves()
}

// halves fills middle and end from the present squares, which move to the end.
func (r *ringing) halves() {
	if r.n == 0 {
		return
	}
	for i := 1; i <= 2; i++ {
		for m := range r.n {
			for s := range r.square[m] {
				r.square[m][s] *= r.fade[m]
			}
		}
		r.total(i)
	}
}
