package trial

import "math"

// futures makes the random numbers of imagined ends: a 32-bit generator of
// three words and a counter (Doty-Humphrey's sfc32, recalled), which a page can
// run as well, and χ² from it by logarithm and cosine alone.
type futures struct{ a, b, c, count uint32 }

func newFutures(seed uint32) *futures {
	f := &futures{a: seed, b: 0xc011, c: 0x5eed, count: 1}
	for range 12 { // the words are mixed
		f.word()
	}
	return f
}

func (f *futures) word() uint32 {
	out := f.a + f.b + f.count
	f.count++
	f.a = f.b ^ f.b>>9
	f.b = f.c + f.c<<3
	f.c = (f.c<<21 | f.c>>11) + out
	return out
}

// uniform is above 0 and below 1.
func (f *futures) uniform() float64 { return (float64(f.word()) + 0.5) / (1 << 32) }

// logChi2 is the logarithm of a χ² with k degrees of freedom: −2 ln of a
// uniform for every two, and a normal's square (Box and Muller 1958) for an odd
// one.
func (f *futures) logChi2(k int) float64 {
	sum := 0.0
	for range k / 2 {
		sum -= 2 * math.Log(f.uniform())
	}
	if k%2 == 1 {
		u, v := f.uniform(), f.uniform()
		c := math.Cos(2 * math.Pi * v)
		sum -= 2 * math.Log(u) * c * c
	}
	return math.Log(sum)
}

// logF is the logarithm of the ratio of two such: of an end's variance to
// another's, where both set-ups are alike.
func (f *futures) logF(k int) float64 {
	a := f.logChi2(k)
	return a - f.logChi2(k)
}
