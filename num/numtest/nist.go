package numtest

import "math"

// Difficulty is NIST's grade of a nonlinear problem.
type Difficulty string

// NIST's grades.
const (
	Lower   Difficulty = "lower"
	Average Difficulty = "average"
	Higher  Difficulty = "higher"
)

// StRD is a nonlinear regression of NIST's Statistical Reference Datasets with
// its certified values (11 digits) and its two starting points, the second
// near the answer.
type StRD struct {
	Name   string
	Grade  Difficulty
	X, Y   []float64
	F      func(b []float64, x float64) float64
	Starts [2][]float64
	B, SD  []float64 // parameters and their standard deviations
	RSS    float64
}

// Residuals fills r with y − f.
func (s StRD) Residuals(b, r []float64) {
	for i, x := range s.X {
		r[i] = s.Y[i] - s.F(b, x)
	}
}

// StRDs lists the problems. Data and certified values are recalled; that they
// belong together is checked by the residual sum of squares, which a slip in
// either would change in its first digits (Lanczos 1 and 2, read, are in
// Fittings).
func StRDs() []StRD {
	return append(misra(), danWood(), lanczos3(), mgh17(), mgh09(), mgh10(), boxBOD(), rat42(), rat43())
}

// misra are four models of one set of dental monomolecular adsorption data.
func misra() []StRD {
	x := []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0}
	y := []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78}
	return []StRD{
		{
			"Misra1a", Lower, x, y, func(b []float64, x float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) },
			[2][]float64{{500, 0.0001}, {250, 0.0005}}, []float64{2.3894212918e+02, 5.5015643181e-04}, []float64{2.7070075241, 7.2668688436e-06}, 1.2455138894e-01,
		},
		{
			"Misra1b", Lower, x, y, func(b []float64, x float64) float64 { return b[0] * (1 - math.Pow(1+b[1]*x/2, -2)) },
			[2][]float64{{500, 0.0001}, {300, 0.0002}}, []float64{3.3799746163e+02, 3.9039091287e-04}, []float64{3.1643950207, 4.2547321834e-06}, 7.5464681533e-02,
		},
		{
			"Misra1c", Average, x, y, func(b []float64, x float64) float64 { return b[0] * (1 - math.Pow(1+2*b[1]*x, -0.5)) },
			[2][]float64{{500, 0.0001}, {600, 0.0002}}, []float64{6.3642725809e+02, 2.0813627256e-04}, []float64{4.6638326572, 1.7728423155e-06}, 4.0966836971e-02,
		},
		{
			"Misra1d", Average, x, y, func(b []float64, x float64) float64 { return b[0] * b[1] * x / (1 + b[1]*x) },
			[2][]float64{{500, 0.0001}, {450, 0.0003}}, []float64{4.3736970754e+02, 3.0227324449e-04}, []float64{3.6489174345, 2.9334354479e-06}, 5.6419295283e-02,
		},
	}
}

func danWood() StRD {
	return StRD{
		"DanWood", Lower, []float64{1.309, 1.471, 1.490, 1.565, 1.611, 1.680}, []float64{2.138, 3.421, 3.597, 4.340, 4.882, 5.660},
		func(b []float64, x float64) float64 { return b[0] * math.Pow(x, b[1]) },
		[2][]float64{{1, 5}, {0.7, 4}}, []float64{7.6886226176e-01, 3.8604055871}, []float64{1.8281973860e-02, 5.1726610913e-02}, 4.3173084083e-03,
	}
}

// lanczos3 is the sum of three exponentials to four decimals.
func lanczos3() StRD {
	s := StRD{
		Name: "Lanczos3", Grade: Lower, Starts: [2][]float64{lanczosStarts()[0], lanczosStarts()[1]},
		F: func(b []float64, x float64) float64 {
			return b[0]*math.Exp(-b[1]*x) + b[2]*math.Exp(-b[3]*x) + b[4]*math.Exp(-b[5]*x)
		},
		B:   []float64{8.6816414977e-02, 9.5498101505e-01, 8.4400777463e-01, 2.9515951832, 1.5825685901, 4.9863565084},
		SD:  []float64{1.7197908859e-02, 9.7041624475e-02, 4.1488663282e-02, 1.0766312506e-01, 5.8371576281e-02, 3.4436403035e-02},
		RSS: 1.6117193594e-08,
	}
	for i := range 24 {
		s.X, s.Y = append(s.X, lanczosX(i)), append(s.Y, math.Round(1e4*lanczosF(lanczosX(i)))/1e4)
	}
	return s
}

// mgh17 is Osborne's first function.
func mgh17() StRD {
	s := StRD{
		Name: "MGH17", Grade: Average,
		Y: []float64{
			0.844, 0.908, 0.932, 0.936, 0.925, 0.908, 0.881, 0.850, 0.818, 0.784, 0.751, 0.718, 0.685, 0.658, 0.628, 0.603, 0.580,
			0.558, 0.538, 0.522, 0.506, 0.490, 0.478, 0.467, 0.457, 0.448, 0.438, 0.431, 0.424, 0.420, 0.414, 0.411, 0.406,
		},
		F:      func(b []float64, x float64) float64 { return b[0] + b[1]*math.Exp(-x*b[3]) + b[2]*math.Exp(-x*b[4]) },
		Starts: [2][]float64{{50, 150, -100, 1, 2}, {0.5, 1.5, -1, 0.01, 0.02}},
		B:      []float64{3.7541005211e-01, 1.9358469127, -1.4646871366, 1.2867534640e-02, 2.2122699662e-02},
		SD:     []float64{2.0723153551e-03, 2.2031669222e-01, 2.2175707739e-01, 4.4861358114e-04, 8.9471996575e-04},
		RSS:    5.4648946975e-05,
	}
	for i := range s.Y {
		s.X = append(s.X, 10*float64(i))
	}
	return s
}

// mgh09 is Kowalik's and Osborne's function.
func mgh09() StRD {
	return StRD{
		"MGH09", Higher, []float64{4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625},
		[]float64{0.1957, 0.1947, 0.1735, 0.1600, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246},
		func(b []float64, x float64) float64 { return b[0] * (x*x + x*b[1]) / (x*x + x*b[2] + b[3]) },
		[2][]float64{{25, 39, 41.5, 39}, {0.25, 0.39, 0.415, 0.39}},
		[]float64{1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01},
		[]float64{1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02}, 3.0750560385e-04,
	}
}

// mgh10 is Meyer's function.
func mgh10() StRD {
	s := StRD{
		Name: "MGH10", Grade: Higher,
		Y:      []float64{34780, 28610, 23650, 19630, 16370, 13720, 11540, 9744, 8261, 7030, 6005, 5147, 4427, 3820, 3307, 2872},
		F:      func(b []float64, x float64) float64 { return b[0] * math.Exp(b[1]/(x+b[2])) },
		Starts: [2][]float64{{2, 400000, 25000}, {0.02, 4000, 250}},
		B:      []float64{5.6096364710e-03, 6.1813463463e+03, 3.4522363462e+02},
		SD:     []float64{1.5687892471e-04, 2.3309021107e+01, 7.8486103508e-01}, RSS: 8.7945855171e+01,
	}
	for i := range s.Y {
		s.X = append(s.X, 50+5*float64(i))
	}
	return s
}

func boxBOD() StRD {
	return StRD{
		"BoxBOD", Higher, []float64{1, 2, 3, 5, 7, 10}, []float64{109, 149, 149, 191, 213, 224},
		func(b []float64, x float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) },
		[2][]float64{{1, 1}, {100, 0.75}}, []float64{2.1380940889e+02, 5.4723748542e-01}, []float64{1.2354515176e+01, 1.0455993237e-01}, 1.1680088766e+03,
	}
}

// rat42 and rat43 are Ratkowsky's growth curves of pasture and of onions.
func rat42() StRD {
	return StRD{
		"Rat42", Higher, []float64{9, 14, 21, 28, 42, 57, 63, 70, 79}, []float64{8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08},
		func(b []float64, x float64) float64 { return b[0] / (1 + math.Exp(b[1]-b[2]*x)) },
		[2][]float64{{100, 1, 0.1}, {75, 2.5, 0.07}}, []float64{7.2462237576e+01, 2.6180768402, 6.7359200066e-02},
		[]float64{1.7340283401, 8.8295217536e-02, 3.4465663377e-03}, 8.0565229338,
	}
}

func rat43() StRD {
	s := StRD{
		Name: "Rat43", Grade: Higher,
		Y:      []float64{16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92, 724.93, 699.56, 689.96, 637.56, 717.41},
		F:      func(b []float64, x float64) float64 { return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x), 1/b[3]) },
		Starts: [2][]float64{{100, 10, 1, 1}, {700, 5, 0.75, 1.3}},
		B:      []float64{6.9964151270e+02, 5.2771253025, 7.5962938329e-01, 1.2792483859},
		SD:     []float64{1.6302297817e+01, 2.0828735829, 1.9566123451e-01, 6.8761936385e-01}, RSS: 8.7864049080e+03,
	}
	for i := range s.Y {
		s.X = append(s.X, float64(i+1))
	}
	return s
}
