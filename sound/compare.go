package sound

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Comparison is the difference of a measure between two settings.
type Comparison struct {
	Difference float64 // mean of the second less mean of the first, in the measure's unit
	Low, High  float64 // 95 % interval of the difference
	P          float64 // two-sided, of no difference
	Found      bool    // the interval leaves zero out
	Shots      [2]int  // that could be measured
	OK         bool
	Why        string   // why it cannot be told
	Warnings   []string // from the recording conditions; not empty: do not trust levels
}

// Compare compares one measure between shots of two settings by Student's t
// test with pooled variance. Fewer than two measurable shots on a side give
// "cannot tell". With 0.7 dB of shot-to-shot scatter and six shots a side a
// step of 1.5 dB is found nine times in ten.
func Compare(a, b []Measure, conditions ...Conditions) Comparison {
	x, y := values(a), values(b)
	c := Comparison{Shots: [2]int{len(x), len(y)}}
	for i := 1; i < len(conditions); i++ {
		c.Warnings = append(c.Warnings, conditions[0].Compare(conditions[i])...)
	}
	if len(x) < 2 || len(y) < 2 {
		c.Why = fmt.Sprintf("%d and %d measurable shots: two a setting are the least, six are good", len(x), len(y))
		return c
	}
	nx, ny := float64(len(x)), float64(len(y))
	mx, vx := stat.MeanVariance(x, nil)
	my, vy := stat.MeanVariance(y, nil)
	nu := nx + ny - 2
	se := math.Sqrt(((nx-1)*vx + (ny-1)*vy) / nu * (1/nx + 1/ny))
	t := distuv.StudentsT{Sigma: 1, Nu: nu}
	c.Difference, c.OK = my-mx, true
	half := t.Quantile(0.975) * se
	c.Low, c.High = c.Difference-half, c.Difference+half
	c.P = 1
	if c.Difference != 0 {
		c.P = 2 * t.Survival(math.Abs(c.Difference)/math.Max(se, 1e-300))
	}
	c.Found = c.Low > 0 || c.High < 0
	return c
}

// values returns what could be measured.
func values(m []Measure) (v []float64) {
	for _, x := range m {
		if x.OK {
			v = append(v, x.Value)
		}
	}
	return v
}

// meanInterval returns the mean and half its 95 % interval (0 for one value).
func meanInterval(v []float64) (mean, half float64) {
	if len(v) < 2 {
		return stat.Mean(v, nil), 0
	}
	n := float64(len(v))
	mean, variance := stat.MeanVariance(v, nil)
	return mean, distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile(0.975) * math.Sqrt(variance/n)
}
