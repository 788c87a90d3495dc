package sound

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Features are the three numbers of a shot that make a bow's signature. None
// depends on the recording's gain.
type Features struct {
	Early float64 // dB: first 5 ms against the first 80 ms
	Late  float64 // dB: 20–80 ms against 0–20 ms
	Pitch float64 // octaves above 1 kHz of the spectral centroid
	OK    bool
	Why   string // why the shot has no features
}

// FeaturesOf returns a shot's features, or the reason why it has none.
func FeaturesOf(m Measures) Features {
	for _, v := range []Measure{m.Attack, m.EarlyLate, m.Centroid} {
		if !v.OK {
			return Features{Why: v.Why}
		}
	}
	if !(m.Centroid.Value >= 1) {
		return Features{Why: "its pitch is no frequency that is heard"}
	}
	return Features{
		Early: decibels(math.Max(m.Attack.Value, 1e-6)),
		Late:  -m.EarlyLate.Value,
		Pitch: math.Log2(m.Centroid.Value / 1000),
		OK:    true,
	}
}

// usable reports whether there are features, in numbers that a sound can have.
func (f Features) usable() bool {
	return f.OK && !slices.ContainsFunc(f.vector(), func(x float64) bool { return !(math.Abs(x) <= 1e6) })
}

func (f Features) vector() []float64 { return []float64{f.Early, f.Late, f.Pitch} }

const (
	featureCount = 3
	leastShots   = 20   // below this no shot is flagged
	flagAt       = 0.05 // rank p at which a shot is flagged
	roundArrows  = 72
)

// Oddness says how unlike the other shots one shot sounds.
type Oddness struct {
	Distance  float64 // from the others' centre, in standard deviations (shrunk covariance)
	P         float64 // by rank among the shots: how often a usual shot is as far off
	SmallestP float64 // the least P so many shots can give
	Flag      bool    // sounds wrong
	PerRound  float64 // flags to expect by chance in 72 arrows, at most
	Most      string  // which feature is furthest off: "early energy", "late energy", "pitch"
	OK        bool    // it was judged
	Why       string  // why not, or why nothing is flagged
	Features  Features
}

// LeaveOneOut judges each shot of a bow and set-up against all the others of
// the same recording conditions. A shot is flagged if its rank p is at most
// 0.05 and its distance alone, were the features normal, is as unusual;
// nothing is flagged below 20 shots. By chance up to 3.6 of 72 arrows are
// flagged: say so beside every flag.
func LeaveOneOut(shots []Features) []Oddness {
	out := make([]Oddness, len(shots))
	var index []int
	for i, f := range shots {
		out[i] = Oddness{Features: f, Why: f.Why, P: 1}
		if f.OK {
			index = append(index, i)
		}
	}
	n := len(index)
	if n < featureCount+3 {
		for _, i := range index {
			out[i].Why = fmt.Sprintf("only %d shots can be compared", n)
		}
		return out
	}
	distances := make([]float64, n)
	for k, i := range index {
		var others []Features
		for j, o := range index {
			if j != k {
				others = append(others, shots[o])
			}
		}
		c := newCloud(others)
		distances[k], out[i].Most = c.distance(shots[i])
	}
	for k, i := range index {
		atLeast := 0
		for _, d := range distances {
			if d >= distances[k] {
				atLeast++
			}
		}
		out[i].judge(distances[k], float64(atLeast)/float64(n), 1/float64(n), n-1)
	}
	return out
}

// judge turns a distance and its rank into a flag.
func (o *Oddness) judge(distance, p, smallest float64, others int) {
	o.OK, o.Distance, o.P, o.SmallestP, o.PerRound = true, distance, p, smallest, flagAt*roundArrows
	if others+1 < leastShots {
		o.Why = fmt.Sprintf("%d shots: nothing is flagged below %d", others+1, leastShots)
		return
	}
	o.Flag = p <= flagAt && hotelling(distance, others) <= flagAt
}

// hotelling is the chance that one more shot of a normal cloud lies at least
// so far from the mean of n others (Hotelling's T², prediction form; the
// shrinking makes it approximate).
func hotelling(distance float64, n int) float64 {
	p, m := float64(featureCount), float64(n)
	f := distance * distance * m * (m - p) / ((m*m - 1) * p)
	return distuv.F{D1: p, D2: m - p}.Survival(f)
}

// Signature is how a bow and set-up normally sounds.
type Signature struct {
	Shots     int
	Centre    Features // mean
	Spread    Features // standard deviation
	cloud     cloud
	distances []float64 // of each shot from the others
}

// NewSignature learns from shots of one bow, set-up and recording conditions.
// Below 20 shots it is returned, but [Signature.Judge] flags nothing.
func NewSignature(shots []Features) (Signature, error) {
	var usable []Features
	for _, f := range shots {
		if f.usable() {
			usable = append(usable, f)
		}
	}
	if len(usable) < featureCount+3 {
		return Signature{}, &FileError{Code: CodeConfig, Field: "shots", Reason: fmt.Sprintf("%d usable shots make no signature", len(usable)), Hint: fmt.Sprintf("record at least %d", leastShots)}
	}
	s := Signature{Shots: len(usable), cloud: newCloud(usable)}
	for _, o := range LeaveOneOut(usable) {
		s.distances = append(s.distances, o.Distance)
	}
	m, d := s.cloud.mean, s.cloud.sd
	s.Centre = Features{Early: m[0], Late: m[1], Pitch: m[2], OK: true}
	s.Spread = Features{Early: d[0], Late: d[1], Pitch: d[2], OK: true}
	return s, nil
}

// Judge says how unlike the signature a new shot sounds.
func (s Signature) Judge(f Features) Oddness {
	o := Oddness{Features: f, Why: f.Why, P: 1}
	if !f.usable() || s.Shots == 0 {
		return o
	}
	var d float64
	d, o.Most = s.cloud.distance(f)
	atLeast := 1
	for _, x := range s.distances {
		if x >= d {
			atLeast++
		}
	}
	n := float64(s.Shots)
	o.judge(d, float64(atLeast)/(n+1), 1/(n+1), s.Shots)
	return o
}

// cloud is the mean and the shrunk covariance of some shots.
type cloud struct {
	mean, sd []float64
	inverse  *mat.SymDense // of the shrunk correlation
}

// newCloud shrinks the correlations towards none by p/(n+p): few shots know
// their correlations badly.
func newCloud(shots []Features) cloud {
	n := len(shots)
	data := mat.NewDense(n, featureCount, nil)
	for i, f := range shots {
		data.SetRow(i, f.vector())
	}
	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, data, nil)
	c := cloud{inverse: mat.NewSymDense(featureCount, nil)}
	corr := mat.NewSymDense(featureCount, nil)
	for k := range featureCount {
		c.mean = append(c.mean, stat.Mean(mat.Col(nil, k, data), nil))
		// a feature that never moves must not divide by zero
		c.sd = append(c.sd, math.Max(math.Sqrt(cov.At(k, k)), 1e-9))
	}
	keep := float64(n) / float64(n+featureCount)
	for i := range featureCount {
		for k := i; k < featureCount; k++ {
			r := cov.At(i, k) / (c.sd[i] * c.sd[k]) * keep
			if i == k {
				r = 1
			}
			corr.SetSym(i, k, r)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(corr) || chol.InverseTo(c.inverse) != nil {
		for i := range featureCount {
			c.inverse.SetSym(i, i, 1)
		}
	}
	return c
}

// distance from the mean in standard deviations, and the feature furthest off.
func (c cloud) distance(f Features) (float64, string) {
	names := [featureCount]string{"early energy", "late energy", "pitch"}
	z := mat.NewVecDense(featureCount, nil)
	most := 0
	for k, v := range f.vector() {
		z.SetVec(k, (v-c.mean[k])/c.sd[k])
		if math.Abs(z.AtVec(k)) > math.Abs(z.AtVec(most)) {
			most = k
		}
	}
	return math.Sqrt(math.Max(mat.Inner(z, c.inverse, z), 0)), names[most]
}
