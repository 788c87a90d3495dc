package group

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// ArrowOffset is how far one numbered arrow flies from where its ends' centres
// are, over all its ends.
type ArrowOffset struct {
	Arrow  string
	Shots  int
	Offset Point       // mean offset, ends taken out, mean over arrows zero
	Radius unit.Length // of the 95 % confidence circle about Offset, for this arrow alone
	P      float64     // of no offset, adjusted for the number of arrows (Bonferroni)
	Flag   bool        // P ≤ 0.05: this arrow always flies out
}

// mostArrows is the largest set of numbered arrows fitted; more than that are
// no numbers on shafts.
const mostArrows = 144

// ArrowOffsets fits place = end's centre + arrow's offset by least squares and
// tests every arrow: |offset|² relative to its variance is 2 F(2, ν) on a
// circular group. An end must hold two numbered arrows to count; with
// fewer than two or more than 144 different numbers there is nothing to fit. It leaves out
// that nocks are turned or shafts bent between ends.
func ArrowOffsets(shots []Shot) ([]ArrowOffset, error) {
	list, err := placed(shots)
	if err != nil {
		return nil, err
	}
	named := 0
	for i := range list {
		if list[i].Arrow != "" {
			named++
		}
	}
	list = only(list, named, func(s *Shot) bool { return s.Arrow != "" })
	names, index := arrowNames(list)
	if len(names) < 2 || len(names) > mostArrows {
		return nil, nil
	}
	sys := newArrowSystem(names, index, list)
	cov, ok := sys.solve()
	nu := 2 * float64(sys.shots-sys.ends-len(names)+1)
	if !ok || nu < 2 {
		return nil, nil
	}
	s2 := sys.residual(list, index) / nu
	f := distuv.F{D1: 2, D2: nu}
	var out []ArrowOffset
	for a, name := range names {
		v := cov.At(a, a)
		o := ArrowOffset{Arrow: name, Shots: sys.count[a], Offset: Point{unit.Length(sys.x[a]), unit.Length(sys.y[a])}, P: 1}
		if v <= 0 || s2 == 0 {
			continue
		}
		o.Radius = unit.Length(math.Sqrt(2 * f.Quantile(Confidence) * s2 * v))
		r2 := sys.x[a]*sys.x[a] + sys.y[a]*sys.y[a]
		o.P = min(1, float64(len(names))*f.Survival(r2/(2*s2*v)))
		o.Flag = o.P <= 0.05
		out = append(out, o)
	}
	return out, nil
}

func arrowNames(list []Shot) ([]string, map[string]int) {
	index := map[string]int{}
	var names []string
	for _, s := range list {
		if _, known := index[s.Arrow]; !known {
			index[s.Arrow] = 0
			names = append(names, s.Arrow)
		}
	}
	slices.SortFunc(names, compareNumbers)
	for i, n := range names {
		index[n] = i
	}
	return names, index
}

// compareNumbers sorts "2" before "10", and numbers before names.
func compareNumbers(a, b string) int {
	x, ex := strconv.Atoi(a)
	y, ey := strconv.Atoi(b)
	switch {
	case ex == nil && ey == nil:
		return x - y
	case ex == nil:
		return -1
	case ey == nil:
		return 1
	case a < b:
		return -1
	}
	return 1
}

// arrowSystem holds the normal equations of the offsets, ends eliminated, with
// Σ offset = 0 added so that they can be solved.
type arrowSystem struct {
	normal      *mat.SymDense
	rx, ry      []float64
	x, y        []float64 // solution
	count       []int
	centres     map[int]Point
	shots, ends int
}

func newArrowSystem(names []string, index map[string]int, list []Shot) *arrowSystem {
	n := len(names)
	s := &arrowSystem{normal: mat.NewSymDense(n, nil), rx: make([]float64, n), ry: make([]float64, n), count: make([]int, n), centres: map[int]Point{}}
	for _, end := range byEnd(list) {
		if len(end) < 2 {
			continue
		}
		s.ends++
		s.shots += len(end)
		c, k := Centre(end), float64(len(end))
		s.centres[end[0].End] = c
		share := make([]float64, n)
		for _, shot := range end {
			share[index[shot.Arrow]]++
		}
		for _, shot := range end {
			a := index[shot.Arrow]
			s.count[a]++
			s.rx[a] += float64(shot.Right - c.Right)
			s.ry[a] += float64(shot.Up - c.Up)
		}
		for a := range n {
			if share[a] == 0 {
				continue // not shot in this end: nothing to add
			}
			for b := a; b < n; b++ {
				v := -share[a] * share[b] / k
				if a == b {
					v += share[a]
				}
				s.normal.SetSym(a, b, s.normal.At(a, b)+v)
			}
		}
	}
	return s
}

// solve returns the covariance of the offsets in units of σ². ok is false when
// the ends do not connect the arrows.
func (s *arrowSystem) solve() (*mat.SymDense, bool) {
	n := len(s.rx)
	full := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			full.SetSym(a, b, s.normal.At(a, b)+1/float64(n))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(full) || chol.Cond() > 1e12 {
		return nil, false
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return nil, false
	}
	s.x, s.y = times(&inv, s.rx), times(&inv, s.ry)
	// The constraint's own 1/n is no variance of the offsets.
	cov := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			cov.SetSym(a, b, inv.At(a, b)-1/float64(n))
		}
	}
	return cov, true
}

func times(m *mat.SymDense, v []float64) []float64 {
	var out mat.VecDense
	out.MulVec(m, mat.NewVecDense(len(v), v))
	return out.RawVector().Data
}

// residual is the sum of squared distances left when ends and arrows are taken
// out.
func (s *arrowSystem) residual(list []Shot, index map[string]int) float64 {
	sum := 0.0
	for _, end := range byEnd(list) {
		c, ok := s.centres[end[0].End]
		if !ok {
			continue
		}
		var mx, my float64
		for _, shot := range end {
			mx, my = mx+s.x[index[shot.Arrow]]/float64(len(end)), my+s.y[index[shot.Arrow]]/float64(len(end))
		}
		for _, shot := range end {
			a := index[shot.Arrow]
			dx, dy := float64(shot.Right-c.Right)-(s.x[a]-mx), float64(shot.Up-c.Up)-(s.y[a]-my)
			sum += dx*dx + dy*dy
		}
	}
	return sum
}
