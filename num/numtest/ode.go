package numtest

import "math"

// ODE is an initial-value problem with a known end.
type ODE struct {
	Name   string
	Source string
	F      func(t float64, y, dy []float64)
	Y0     []float64
	From   float64
	To     float64
	End    []float64 // exact state at To, to about 1e-13
	// Growth is how much an early error has grown at To, to the order of
	// magnitude: a method that keeps its local error below tol per step cannot
	// be asked for less than Growth·tol.
	Growth float64
}

// ODEs is the list of initial-value problems.
func ODEs() []ODE {
	return []ODE{Decay(), Oscillator(), Kepler(0.3), Kepler(0.6), Kepler(0.9), VanDerPolCycle(), Arenstorf()}
}

// Decay is y' = −y.
func Decay() ODE {
	return ODE{
		Name: "decay", Source: "closed form", Y0: []float64{1}, To: 5, End: []float64{math.Exp(-5)}, Growth: 1,
		F: func(_ float64, y, dy []float64) { dy[0] = -y[0] },
	}
}

// Oscillator is y” = −y over ten periods: an error neither grows nor fades.
func Oscillator() ODE {
	return ODE{
		Name: "oscillator", Source: "closed form", Y0: []float64{0, 1}, To: 20 * math.Pi, End: []float64{0, 1}, Growth: 100,
		F: func(_ float64, y, dy []float64) { dy[0], dy[1] = y[1], -y[0] },
	}
}

// Kepler is the two-body problem with the given eccentricity over one period,
// started at the pericentre; the orbit closes. An error of relative size ε in
// the speed at the pericentre changes the energy by v²ε and the period by
// 3π·v²ε with v² = (1+e)/(1−e), and the body passes the end with speed v.
func Kepler(e float64) ODE {
	v := math.Sqrt((1 + e) / (1 - e))
	start := []float64{1 - e, 0, 0, v}
	pull := 1 / ((1 - e) * (1 - e))
	return ODE{
		Name: "two bodies, eccentricity " + digit(e), Source: "closed form: the orbit closes after 2π",
		Y0: start, To: 2 * math.Pi, End: start, Growth: 3 * math.Pi * v * v * math.Max(v, pull),
		F: func(_ float64, y, dy []float64) {
			r := math.Hypot(y[0], y[1])
			q := 1 / (r * r * r)
			dy[0], dy[1], dy[2], dy[3] = y[2], y[3], -q*y[0], -q*y[1]
		},
	}
}

// digit writes 0.6.
func digit(e float64) string { return "0." + string(rune('0'+int(math.Round(10*e)))) }

// VanDerPolPeriod is the period and VanDerPolAmplitude the largest |y| of the
// limit cycle of y” = (1 − y²) y' − y (computed many times in the literature;
// recalled; confirmed here by two methods of different order).
const (
	VanDerPolPeriod    = 6.66328685932313019
	VanDerPolAmplitude = 2.00861986087484314
)

// VanDerPol is the right-hand side with damping mu.
func VanDerPol(mu float64) func(t float64, y, dy []float64) {
	return func(_ float64, y, dy []float64) { dy[0], dy[1] = y[1], mu*(1-y[0]*y[0])*y[1]-y[0] }
}

// VanDerPolCycle goes once round the limit cycle from its widest point.
func VanDerPolCycle() ODE {
	at := []float64{VanDerPolAmplitude, 0}
	return ODE{
		Name: "Van der Pol, mu 1", Source: "limit cycle, recalled", F: VanDerPol(1),
		Y0: at, To: VanDerPolPeriod, End: at, Growth: 30,
	}
}

// Arenstorf is a closed orbit of a light body about earth and moon
// (Arenstorf 1963; figures as in Hairer, Nørsett & Wanner I, II.0, recalled;
// that it closes confirms them). It passes the earth closely: the error of
// the end is some 1e5 to 1e6 times an early one.
func Arenstorf() ODE {
	const mu = 0.012277471
	start := []float64{0.994, 0, 0, -2.00158510637908252240537862224}
	return ODE{
		Name: "Arenstorf", Source: "closed orbit, recalled", Y0: start, To: 17.0652165601579625588917206249, End: start, Growth: 1e6,
		F: func(_ float64, y, dy []float64) {
			a, b := math.Hypot(y[0]+mu, y[1]), math.Hypot(y[0]-(1-mu), y[1])
			p, q := (1-mu)/(a*a*a), mu/(b*b*b)
			dy[0], dy[1] = y[2], y[3]
			dy[2] = y[0] + 2*y[3] - p*(y[0]+mu) - q*(y[0]-(1-mu))
			dy[3] = y[1] - 2*y[2] - p*y[1] - q*y[1]
		},
	}
}
