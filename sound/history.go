package sound

// history keeps the last seconds of the mixed recording.
type history struct {
	buf  []float64
	next int64 // index of the next sample to come
}

func newHistory(samples int) *history { return &history{buf: make([]float64, samples)} }

func (h *history) push(x []float64) {
	for len(x) > 0 {
		at := int(h.next % int64(len(h.buf)))
		n := copy(h.buf[at:], x)
		h.next += int64(n)
		x = x[n:]
	}
}

// slice copies the samples from (inclusive) to (exclusive), as far as they
// are still, or already, there; start is the index of the first one copied.
func (h *history) slice(from, to int64) (x []float64, start int64) {
	from = max(from, 0, h.next-int64(len(h.buf)))
	to = min(to, h.next)
	if to <= from {
		return nil, from
	}
	x = make([]float64, to-from)
	at := int(from % int64(len(h.buf)))
	n := copy(x, h.buf[at:])
	copy(x[n:], h.buf)
	return x, from
}
