package numtest

import "math"

// Regression is a linear least-squares problem with certified results. A
// certified value that is not known here is NaN, a list nil.
type Regression struct {
	Name   string
	Source string
	X      [][]float64 // one row per observation
	Y      []float64
	Beta   []float64 // certified coefficients; NaN where not known
	StdErr []float64 // certified standard errors; NaN where not known
	RSD    float64   // certified residual standard deviation
	R2     float64   // certified, about the mean
}

var unknown = math.NaN()

// wamplerDelta is the disturbance of Wampler3 to 5 (NIST StRD;
// reference data/wampler_delta.csv, read).
var wamplerDelta = []float64{
	759, -2048, 2048, -2048, 2523, -2048, 2048, -2048, 1838, -2048, 2048,
	-2048, 1838, -2048, 2048, -2048, 2523, -2048, 2048, -2048, 759,
}

// Regressions is the list of NIST StRD linear regression problems of
// reference G8.
func Regressions() []Regression {
	se3 := []float64{2152.32624678, 2363.5517347, 779.343524332, 101.47550755, 5.64566512171, 0.112324854679}
	ones := []float64{1, 1, 1, 1, 1, 1}
	return []Regression{
		norris(), longley(),
		wampler("Wampler1", "read", 0, ones, make([]float64, 6), 0, 1),
		wampler("Wampler2", "recalled", 0, []float64{1, .1, .01, .001, .0001, .00001}, make([]float64, 6), 0, 1),
		wampler("Wampler3", "computed", 1, ones, se3, 2360.14502379268, 0.99999555902582),
		wampler("Wampler4", "computed", 100, ones, times(se3, 100), 236014.502379268, 0.957478440825662),
		wampler("Wampler5", "computed", 10000, ones, times(se3, 10000), 23601450.2379268, 0.0022466892157494),
		noInt1(), noInt2(),
	}
}

// times multiplies a list.
func times(v []float64, f float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = f * x
	}
	return out
}

// wampler makes y = Σ beta_k x^k + f·delta at x = 0…20.
func wampler(name, tag string, f float64, beta, se []float64, rsd, r2 float64) Regression {
	r := Regression{Name: name, Source: "G8 (" + tag + ": NIST StRD)", Beta: beta, StdErr: se, RSD: rsd, R2: r2}
	for i := range 21 {
		x := float64(i)
		row := []float64{1, x, x * x, x * x * x, x * x * x * x, x * x * x * x * x}
		r.X = append(r.X, row)
		y := f * wamplerDelta[i]
		if name == "Wampler2" {
			// Σ (x/10)^k as the nearest float64 to the decimal number.
			n := 1e5 + 1e4*row[1] + 1e3*row[2] + 100*row[3] + 10*row[4] + row[5]
			r.Y = append(r.Y, n/1e5)
			continue
		}
		for k, b := range beta {
			y += b * row[k]
		}
		r.Y = append(r.Y, y)
	}
	return r
}

// norris: certified values read; the data recalled, confirmed by exact
// rational arithmetic to reproduce the certified values to 15 digits.
func norris() Regression {
	data := []float64{
		0.1, 0.2, 338.8, 337.4, 118.1, 118.2, 888.0, 884.6, 9.2, 10.1, 228.1, 226.5, 668.5, 666.3, 998.5, 996.3,
		449.1, 448.6, 778.9, 777.0, 559.2, 558.2, 0.3, 0.4, 0.1, 0.6, 778.1, 775.5, 668.8, 666.9, 339.3, 338.0,
		448.9, 447.5, 10.8, 11.6, 557.7, 556.0, 228.3, 228.1, 998.0, 995.8, 888.8, 887.6, 119.6, 120.2, 0.3, 0.3,
		0.6, 0.3, 557.6, 556.8, 339.3, 339.1, 888.0, 887.2, 998.5, 999.0, 778.9, 779.0, 10.2, 11.1, 117.6, 118.3,
		228.9, 229.2, 668.4, 669.1, 449.2, 448.9, 0.2, 0.5,
	}
	r := Regression{
		Name: "Norris", Source: "G8 (read: NIST StRD)",
		Beta:   []float64{-0.262323073774029, 1.00211681802045},
		StdErr: []float64{0.232818234301152, 0.429796848199937e-3},
		RSD:    0.884796396144373, R2: 0.999993745883712,
	}
	for i := 0; i < len(data); i += 2 {
		r.Y = append(r.Y, data[i])
		r.X = append(r.X, []float64{1, data[i+1]})
	}
	return r
}

// longley: certified values read; the data recalled, confirmed by exact
// rational arithmetic to reproduce them to 15 digits.
func longley() Regression {
	data := [][7]float64{
		{60323, 83.0, 234289, 2356, 1590, 107608, 1947}, {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
		{60171, 88.2, 258054, 3682, 1616, 109773, 1949}, {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
		{63221, 96.2, 328975, 2099, 3099, 112075, 1951}, {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
		{64989, 99.0, 365385, 1870, 3547, 115094, 1953}, {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
		{66019, 101.2, 397469, 2904, 3048, 117388, 1955}, {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
		{68169, 108.4, 442769, 2936, 2798, 120445, 1957}, {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
		{68655, 112.6, 482704, 3813, 2552, 123366, 1959}, {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
		{69331, 115.7, 518173, 4806, 2572, 127852, 1961}, {70551, 116.9, 554894, 4007, 2827, 130081, 1962},
	}
	r := Regression{
		Name: "Longley", Source: "G8 (read: NIST StRD)",
		Beta:   []float64{-3482258.63459582, 15.0618722713733, unknown, unknown, unknown, unknown, unknown},
		StdErr: []float64{890420.383607373, 84.9149257747669, unknown, unknown, unknown, unknown, unknown},
		RSD:    304.854073561965, R2: 0.995479004577296,
	}
	for _, d := range data {
		r.Y = append(r.Y, d[0])
		r.X = append(r.X, append([]float64{1}, d[1:]...))
	}
	return r
}

// noInt1 is a line through the origin; R² about the mean is not certified.
func noInt1() Regression {
	r := Regression{
		Name: "NoInt1", Source: "G8 (computed)",
		Beta: []float64{2.07438016528926}, StdErr: []float64{0.0165289256198347}, RSD: 3.56753034006338, R2: unknown,
	}
	for i := range 11 {
		r.X = append(r.X, []float64{60 + float64(i)})
		r.Y = append(r.Y, 130+float64(i))
	}
	return r
}

// noInt2 is the same with three points.
func noInt2() Regression {
	return Regression{
		Name: "NoInt2", Source: "G8 (computed)",
		X: [][]float64{{4}, {5}, {6}}, Y: []float64{3, 4, 4},
		Beta: []float64{0.727272727272727}, StdErr: []float64{0.0420827318078432}, RSD: 0.369274472937998, R2: unknown,
	}
}

// Comparison is a one-way analysis of variance with a certified F.
type Comparison struct {
	Name   string
	Source string
	Groups [][]float64
	F      float64 // mean square between over mean square within
}

// Comparisons is the list of NIST StRD analysis-of-variance problems of
// reference G8. The measured data are recalled and confirmed by exact rational
// arithmetic to reproduce the certified F to 15 digits; the others are made by
// their rule, whose exact F is the certified integer.
func Comparisons() []Comparison {
	list := []Comparison{siRstv(), atmWtAg()}
	for i, offset := range []float64{1, 1e6, 1e12} {
		for k, repeats := range []int{21, 201, 2001} {
			name := "SmLs0" + string(rune('1'+3*i+k))
			list = append(list, smLs(name, offset, repeats))
		}
	}
	return list
}

// smLs makes nine groups: one value at the group's tenth, the rest a tenth
// above and below it in turn (Simon and Lesage).
func smLs(name string, offset float64, repeats int) Comparison {
	c := Comparison{Name: name, Source: "G8 (read: NIST StRD)", F: float64(repeats)}
	for g := range 9 {
		tenths := 4.0 // the first group
		if g > 0 {
			tenths = 3 + 2*float64((g+1)%2)
		}
		group := make([]float64, repeats)
		for i := range group {
			d := 0.0
			if i > 0 {
				d = float64(1 - 2*(i%2))
			}
			// One division, so that each value is the float64 nearest to its decimals.
			group[i] = (10*offset + tenths + d) / 10
		}
		c.Groups = append(c.Groups, group)
	}
	return c
}

func siRstv() Comparison {
	return Comparison{
		Name: "SiRstv", Source: "G8 (read: NIST StRD)", F: 1.18046237440255,
		Groups: [][]float64{
			{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
			{196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
			{196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
			{196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
			{196.2119, 196.1051, 196.1850, 196.0052, 196.2090},
		},
	}
}

func atmWtAg() Comparison {
	return Comparison{
		Name: "AtmWtAg", Source: "G8 (read: NIST StRD)", F: 15.9467335677930,
		Groups: [][]float64{
			{
				107.8681568, 107.8681465, 107.8681572, 107.8681785, 107.8681446, 107.8681903, 107.8681526, 107.8681494,
				107.8681616, 107.8681587, 107.8681519, 107.8681486, 107.8681419, 107.8681569, 107.8681508, 107.8681672,
				107.8681385, 107.8681518, 107.8681662, 107.8681424, 107.8681360, 107.8681333, 107.8681610, 107.8681477,
			},
			{
				107.8681079, 107.8681344, 107.8681513, 107.8681197, 107.8681604, 107.8681385, 107.8681642, 107.8681365,
				107.8681151, 107.8681082, 107.8681517, 107.8681448, 107.8681198, 107.8681482, 107.8681334, 107.8681609,
				107.8681101, 107.8681512, 107.8681469, 107.8681360, 107.8681254, 107.8681261, 107.8681450, 107.8681368,
			},
		},
	}
}
