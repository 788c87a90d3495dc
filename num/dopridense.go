package num

import "math"

// prepare computes the continuous extension if anything will look inside;
// false if it overflows.
func (d *DormandPrince) prepare(h float64, s *Span) bool {
	if len(s.Events) == 0 && (s.Observe == nil || s.Times == nil) {
		return true
	}
	for i, y0 := range d.start {
		diff := d.end[i] - y0
		bend := h*d.k[0][i] - diff
		sum := 0.0
		for j, w := range dpD {
			sum += w * d.k[j][i]
		}
		d.dense[0][i] = y0
		d.dense[1][i] = diff
		d.dense[2][i] = bend
		d.dense[3][i] = diff - h*d.k[6][i] - bend
		d.dense[4][i] = h * sum
	}
	return tame(d.dense[2]) && tame(d.dense[3]) && tame(d.dense[4])
}

// inside evaluates the continuous extension at the fraction x of the step.
func (d *DormandPrince) inside(x float64, y []float64) {
	if x >= 1 {
		copy(y, d.end)
		return
	}
	u := 1 - x
	for i := range y {
		y[i] = d.dense[0][i] + x*(d.dense[1][i]+u*(d.dense[2][i]+x*(d.dense[3][i]+u*d.dense[4][i])))
	}
}

// firstStep is Hairer's guess (Hairer, Nørsett & Wanner II.4): a small Euler
// step shows the size of the second derivative.
func (d *DormandPrince) firstStep(f Derivative, s *Span, a *Accuracy) float64 {
	span := s.To - s.From
	longest := math.Min(math.Abs(span), a.Longest)
	if a.First > 0 {
		return math.Copysign(math.Min(a.First, longest), span)
	}
	size, speed := 0.0, 0.0
	for i, y := range d.start {
		w := a.sizeOf(i, y)
		size += (y / w) * (y / w)
		speed += (d.k[0][i] / w) * (d.k[0][i] / w)
	}
	h := 1e-6
	if size > 1e-10 && speed > 1e-10 {
		h = 0.01 * math.Sqrt(size/speed)
	}
	h = math.Copysign(math.Min(h, longest), span)
	for i, y := range d.start {
		d.z[i] = y + h*d.k[0][i]
	}
	d.slope(f, s.From+h, d.z, d.k[1])
	return d.refineFirst(h, longest, speed, a)
}

// refineFirst completes firstStep.
func (d *DormandPrince) refineFirst(h, longest, speed float64, a *Accuracy) float64 {
	bend := 0.0
	for i, y := range d.start {
		q := (d.k[1][i] - d.k[0][i]) / (a.sizeOf(i, y) * h)
		bend += q * q
	}
	n := math.Max(1, float64(len(d.start)))
	steep := math.Max(math.Sqrt(speed/n), math.Sqrt(bend/n))
	next := math.Max(1e-6, 1e-3*math.Abs(h))
	if steep > 1e-15 && finite(steep) {
		next = math.Pow(0.01/steep, 0.2)
	}
	return math.Copysign(math.Min(math.Min(100*math.Abs(h), next), longest), h)
}
