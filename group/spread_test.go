package group

import (
	"math"
	"math/rand/v2"
	"testing"

	"tautline/unit"
)

// worked is the worked group of G1, cm.
func worked() []Shot {
	var list []Shot
	for _, p := range [][2]float64{{1.2, -0.4}, {-2.1, 1.8}, {0.3, 3.0}, {2.6, 0.9}, {-1.0, -2.2}, {0.5, -0.6}} {
		list = append(list, At(1, unit.Length(p[0])*unit.Centimetre, unit.Length(p[1])*unit.Centimetre))
	}
	return list
}

// G1 (computed): the worked group, tolerance half a unit of the last digit given.
func TestWorkedGroup(t *testing.T) {
	m, err := MomentsOf(worked())
	if err != nil {
		t.Fatal(err)
	}
	s := m.SigmaCircular()
	xx, xy, yy := m.Covariance()
	largest := 0.0
	for _, r := range m.residual {
		largest = max(largest, (r.x*r.x+r.y*r.y)/float64(m.S()*m.S()))
	}
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"centre right, cm", m.Centre.Right.Centimetres(), 0.25, 5e-7},
		{"centre up, cm", m.Centre.Up.Centimetres(), 0.416667, 5e-7},
		{"SS, cm²", m.SS() * 1e4, 30.943333, 5e-7},
		{"s, cm", m.S().Centimetres(), 1.7590717, 5e-8},
		{"σ, cm", s.Value.Centimetres(), 1.8035286, 5e-8},
		{"σ low, cm", s.Low.Centimetres(), 1.22909, 5e-6},
		{"σ high, cm", s.High.Centimetres(), 3.08705, 5e-6},
		{"mean radius, cm", m.MeanRadius().Centimetres(), 2.1515937, 5e-8},
		{"extreme spread, cm", ExtremeSpread(worked()).Centimetres(), 5.3600373, 5e-8},
		{"figure of merit, cm", FigureOfMerit(worked()).Centimetres(), 4.95, 5e-8},
		{"covariance xx, cm²", xx * 1e4, 2.715, 5e-7},
		{"covariance xy, cm²", xy * 1e4, 0.051, 5e-7},
		{"covariance yy, cm²", yy * 1e4, 3.473667, 5e-7},
		{"CEP, cm", s.Value.Centimetres() * RadiusFactor(1, 0.5), 2.123493, 5e-7},
		{"largest r²/s²", largest, 2.717692, 5e-7},
	} {
		if !near(c.got, c.want, c.tol) {
			t.Errorf("%s: %.8g, want %.8g", c.name, c.got, c.want)
		}
	}
}

// G1 (computed): the factors of sigma_ci_factors.csv to its digits (c_G 6, factors 4).
func TestSigmaFactors(t *testing.T) {
	for _, row := range referenceTable(t, "sigma_ci_factors.csv") {
		nu := row["nu"]
		l90, h90 := SigmaFactors(nu, 0.90)
		l95, h95 := SigmaFactors(nu, 0.95)
		cv := math.Sqrt(1/(CG(nu)*CG(nu)) - 1)
		for name, c := range map[string][3]float64{
			"c_G": {CG(nu), row["c_G"], 5e-7}, "1/c_G": {1 / CG(nu), row["one_over_c_G"], 5e-7},
			"90 low": {l90, row["ci90_low"], 5e-5}, "90 high": {h90, row["ci90_high"], 5e-5},
			"95 low": {l95, row["ci95_low"], 5e-5}, "95 high": {h95, row["ci95_high"], 5e-5},
			"cv": {cv, row["cv_sigma_hat"], 5e-5},
		} {
			if !near(c[0], c[1], c[2]*1.0001) {
				t.Errorf("n %g, %s: %.7g, want %.7g", row["n"], name, c[0], c[1])
			}
		}
	}
}

// Where the library's search for a quantile ends at 0 the series' first term is
// right: scipy 1.10.1, sqrt(ν/chi2.ppf(0.5 − level/2, ν)).
func TestSigmaFactorsFarOut(t *testing.T) {
	for _, c := range []struct{ nu, level, high float64 }{
		{0.5, 0.9999934762762518, 57200088896.48102}, {0.5, 0.95, 973.7506795438911}, {0.51, 1 - 1e-12, 8.083425942339893e+23}, {1, 1 - 1e-15, 1597045604762866.8},
	} {
		if _, high := SigmaFactors(c.nu, c.level); !near(high, c.high, 1e-12*c.high) {
			t.Errorf("ν %g at %g: %.14g, want %.14g", c.nu, c.level, high, c.high)
		}
	}
}

// What no archer shoots still has an answer: a face of no size, a spread of
// none, and nearly every arrow in the middle (T26).
func TestScoresOfNothing(t *testing.T) {
	if p := (Spread{SigmaRight: 0.5, Offset: Point{Right: -0.042}}).Within(5e-324); p != 0 {
		t.Errorf("within nothing land %g", p)
	}
	if in, out := (Spread{}).Within(5e-324), (Spread{Offset: Point{Up: 1}}).Within(5e-324); in != 1 || out != 0 {
		t.Errorf("of arrows that all hit one point %g lie within it, %g beside it", in, out)
	}
	face, err := FaceByKey("122")
	if err != nil {
		t.Fatal(err)
	}
	const tight = 0.00016595869074375607 // of those for which the zones' probabilities add up to more than 1
	if f, err := ExpectedScore(face, 0.0052, Spread{SigmaRight: tight, SigmaUp: 0.7 * tight}); err != nil || f.PerArrow > 10 {
		t.Errorf("an arrow is expected to score %.17g, %v", f.PerArrow, err)
	}
	for _, sigma := range []unit.Length{0, 1e-6, 1e-3, 1e-2} {
		f, err := ForecastRound(face, 0.0052, Estimate[unit.Length]{Value: sigma, Low: sigma / 2, High: 2 * sigma, Level: 0.95}, 30, 30, 11)
		if err != nil || !(f.Total.Low <= f.Total.Value && f.Total.Value <= f.Total.High && f.Total.High <= 110) {
			t.Errorf("σ %v: %+v, %v", sigma, f.Total, err)
		}
	}
}

// G2 (computed by simulation, s.e. of the mean in the table): exact formulas
// within 5 of its standard errors; our own simulated extreme spread within 5
// standard errors of both simulations together.
func TestRangeStatistics(t *testing.T) {
	for _, row := range referenceTable(t, "range_statistics.csv") {
		n, groups := int(row["n"]), row["groups"]
		e, err := ExpectedOf(n)
		if err != nil {
			t.Fatal(err)
		}
		ours := 2e6
		if n > 20 {
			ours = 4e5
		}
		both := math.Sqrt(1/groups + 1/ours)
		for name, c := range map[string][3]float64{
			"extreme spread":  {e.ExtremeSpread, row["ES_mean"], 5*row["ES_sd"]*both + 5e-5},
			"its s.d.":        {e.ExtremeSpreadSD, row["ES_sd"], 5 * row["ES_sd"] * both},
			"diagonal":        {e.Diagonal, row["diagonal_mean"], 5*row["diagonal_sd"]*both + 5e-5},
			"figure of merit": {e.FigureOfMerit, row["FoM_mean"], 5*row["FoM_sd"]/math.Sqrt(groups) + 5e-5},
			"mean radius":     {e.MeanRadius, row["mean_radius_mean"], 5*row["mean_radius_sd"]/math.Sqrt(groups) + 5e-5},
			"radial s.d.":     {e.RadialSD, row["RSD_mean"], 5*row["RSD_sd"]/math.Sqrt(groups) + 5e-5},
			// A quantile's error is about 2 at the ends and 1.3 in the middle times that of a mean.
			"5 %":  {e.ExtremeLow, row["ES_q05"], 10*row["ES_sd"]*both + 5e-4},
			"50 %": {e.ExtremeMid, row["ES_q50"], 7*row["ES_sd"]*both + 5e-4},
			"95 %": {e.ExtremeHigh, row["ES_q95"], 12*row["ES_sd"]*both + 5e-4},
		} {
			if !near(c[0], c[1], c[2]) {
				t.Errorf("n %d, %s: %.4f, want %.4f ± %.4f", n, name, c[0], c[1], c[2])
			}
		}
	}
	// Exact: √π and 2/√π for two arrows (G2), d2 of control charts (G1, recalled).
	two, _ := ExpectedOf(2)
	if !near(two.ExtremeSpread, math.Sqrt(math.Pi), 0.0033) || !near(two.FigureOfMerit, 2/math.Sqrt(math.Pi), 1e-9) {
		t.Errorf("two arrows: %v", two)
	}
	for n, d2 := range map[int]float64{3: 1.69257, 5: 2.32593, 10: 3.07751} {
		if !near(meanRange(n), d2, 5e-6) {
			t.Errorf("d2(%d) = %.6f, want %.5f", n, meanRange(n), d2)
		}
	}
}

// The table in rangetable.go against a fresh simulation with another start.
func TestRangeTableIsOurs(t *testing.T) {
	for _, n := range []int{4, 7, 12, 25} { // 25 lies between rows
		groups := runs(40000)
		r, e := simulateRange(n, groups, 77), rangeRow(n)
		if tol := 5 * r[2] * math.Sqrt(1/float64(groups)+1/4e5); !near(r[1], e[1], tol+0.002) { // 0.002: interpolation in ln n
			t.Errorf("n %d: simulated %.4f, table %.4f", n, r[1], e[1])
		}
	}
}

// G3 (computed): radii that hold 50, 90, 95 %, to the digits given.
func TestEllipseRadii(t *testing.T) {
	for _, c := range []struct{ q, r50, r90, r95 float64 }{
		{1, 1.17741, 2.14597, 2.44775},
		{0.8, 1.05769, 1.94716, 2.23029},
		{0.6, 0.93365, 1.79152, 2.08130},
		{0.5, 0.87042, 1.73708, 2.03586},
		{0.4, 0.80785, 1.69918, 2.00514},
		{0.2, 0.70585, 1.65731, 1.97041},
		{0, 0.67449, 1.64485, 1.95996},
	} {
		for p, want := range map[float64]float64{0.5: c.r50, 0.9: c.r90, 0.95: c.r95} {
			if got := RadiusFactor(c.q, p); !near(got, want, 6e-6) {
				t.Errorf("q %g, %g %%: %.6f, want %.5f", c.q, 100*p, got, want)
			}
		}
	}
}

// G3 (computed): the factor on ν, (1+q²)²/(2(1+q⁴)): our estimate of it must
// tend to it. 4000 ends of 73 arrows, Monte Carlo error 0.002.
func TestSatterthwaiteFactor(t *testing.T) {
	for q, want := range map[float64]float64{0.8: 0.9540, 0.5: 0.7353, 0.4: 0.6560} {
		rng := rand.New(rand.NewPCG(1, 3))
		m, err := MomentsOf(normalShots(rng, runs(400), 73, 1, q))
		if err != nil {
			t.Fatal(err)
		}
		if got := m.EllipseDF() / (2 * m.DF); !near(got, want, 0.01) {
			t.Errorf("q %g: %.4f, want %.4f", q, got, want)
		}
	}
}

// Mauchly's criterion has the exact distribution claimed: p-values below 0.05
// in 5 % of circular groups. 20000 groups, standard error 0.0015.
func TestCirclePValueIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	for _, n := range []int{3, 5, 12} {
		low, groups := 0, runs(20000)
		for range groups {
			if m, _ := MomentsOf(normalShots(rng, 1, n, 2, 2)); !m.Circular() {
				low++
			}
		}
		if share := float64(low) / float64(groups); !near(share, 0.05, 0.0062) { // four standard errors
			t.Errorf("n %d: %.4f of circular groups called elliptical", n, share)
		}
	}
}

// Issue: 95 % intervals cover 93–97 % for n = 3…72: per axis always, pooled on
// circles, pooled with Satterthwaite's ν on 1:2 ellipses for n ≥ 12, and the
// one printed (chosen by the shape) on both for n ≥ 12. 6000 groups: standard
// error 0.3 %.
func TestSigmaCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	for _, n := range []int{3, 4, 6, 9, 12, 18, 36, 72} {
		groups := runs(6000)
		if n >= 36 {
			groups = runs(3000)
		}
		hits := map[string]int{}
		count := func(name string, e Estimate[unit.Length], truth float64) {
			if e.Holds(unit.Length(truth)) {
				hits[name]++
			}
		}
		pooled := math.Sqrt((1 + 4) / 2.0)
		for range groups {
			circle, _ := MomentsOf(normalShots(rng, 1, n, 1, 1))
			ellipse, _ := MomentsOf(normalShots(rng, 1, n, 1, 2))
			count("right", ellipse.SigmaRight(), 1)
			count("up", ellipse.SigmaUp(), 2)
			count("circle pooled", circle.SigmaCircular(), 1)
			if n >= 12 {
				count("ellipse Satterthwaite", ellipse.SigmaElliptical(), pooled)
				e, _ := ellipse.Sigma()
				count("ellipse as printed", e, pooled)
				e, _ = circle.Sigma()
				count("circle as printed", e, 1)
			}
		}
		for name, h := range hits {
			share := float64(h) / float64(groups)
			t.Logf("n %2d, %-22s %.3f", n, name, share)
			if share < 0.93 || share > 0.97 {
				t.Errorf("n %d, %s: covers %.3f, want 0.93 to 0.97", n, name, share)
			}
		}
	}
}

// Ends with their own centres: ν = 2Σ(n_e − 1), and the intervals still cover.
func TestSeveralEndsEachWithItsCentre(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	hits, centred, groups := 0, 0, runs(4000)
	for range groups {
		shots := normalShots(rng, 6, 3, 1, 1)
		for i := range shots {
			wander := rand.New(rand.NewPCG(uint64(shots[i].End), rng.Uint64()>>63)) // same for the end's arrows
			shots[i].Right += unit.Length(2 * wander.NormFloat64())
		}
		m, _ := MomentsOf(shots)
		if m.DF != 12 {
			t.Fatalf("DF %g, want Σ(n_e−1) = 12", m.DF)
		}
		if m.SigmaUp().Holds(1) {
			hits++
		}
		if c := m.CentreInterval(); c.Up.Holds(0) {
			centred++
		}
	}
	for name, h := range map[string]int{"σ up": hits, "centre up": centred} {
		if share := float64(h) / float64(groups); share < 0.93 || share > 0.97 {
			t.Errorf("%s covers %.3f", name, share)
		}
	}
}

// The centre's interval covers with and without wandering ends.
func TestCentreCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 4))
	for _, wander := range []float64{0, 1.5} {
		hits, groups := 0, runs(4000)
		for range groups {
			shots := normalShots(rng, 6, 6, 1, 1)
			shift := map[int]float64{}
			for i := range shots {
				if _, ok := shift[shots[i].End]; !ok {
					shift[shots[i].End] = wander * rng.NormFloat64()
				}
				shots[i].Right += unit.Length(shift[shots[i].End])
			}
			m, _ := MomentsOf(shots)
			if m.CentreInterval().Right.Holds(0) {
				hits++
			}
		}
		if share := float64(hits) / float64(groups); share < 0.93 || share > 0.97 {
			t.Errorf("ends wander by %g: the centre's interval covers %.3f", wander, share)
		}
	}
}
