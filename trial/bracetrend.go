package trial

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/unit"
)

// trend describes the measure for drawing: points, smooth curve, slope.
func (j *judged) trend() Trend {
	t := Trend{
		Measure: j.measure, Shots: j.shots, DF: j.nu, P: math.NaN(), Detectable: j.detectable,
		Drift: j.drift, Uneven: j.uneven, Note: j.note, Scatter: j.scatter(), SlopePerCM: j.slope(), Direction: j.direction(),
	}
	if len(j.first) > 0 || j.pair != nil {
		t.P = j.p
	}
	t.Broad, t.Hollow = j.broad()
	smooth, rows, order := j.smooth()
	t.Order = order
	for i, st := range j.stops {
		p := TrendPoint{Stop: st.number, Brace: st.brace, Shots: j.n[i], Mean: Unknown[float64](), Smooth: Unknown[float64]()}
		p.Mean.Value = j.mean[i]
		switch {
		case j.pair != nil:
			p.Mean = j.pairMean(i)
		case j.nu > 0:
			p.Mean = around(j.mean[i], j.t()*j.s*math.Sqrt(j.rel[i]))
		}
		if rows != nil {
			value, se := smooth.at(rows[i])
			p.Smooth.Value = value
			if j.nu > 0 {
				p.Smooth = around(value, j.t()*j.s*se)
			}
		}
		t.Points = append(t.Points, p)
	}
	return t
}

func (j *judged) t() float64 { return quantileT(j.nu, 1-(1-Confidence)/2) }

// scatter is one shot's standard deviation with its χ² interval.
func (j *judged) scatter() Estimate[float64] {
	if j.nu == 0 {
		return Unknown[float64]()
	}
	chi := distuv.ChiSquared{K: j.nu}
	return Estimate[float64]{
		Value: j.s,
		Low:   j.s * math.Sqrt(j.nu/chi.Quantile(1-(1-Confidence)/2)),
		High:  j.s * math.Sqrt(j.nu/chi.Quantile((1-Confidence)/2)),
		Level: Confidence,
	}
}

// smooth is the curve drawn: a quadratic from five stops on, a straight line
// from three, each with the claimed spots beside it so that they do not bend
// it. The order is fixed by the number of stops, never chosen by the data,
// so that the intervals mean what they say.
func (j *judged) smooth() (f fit, rows [][]float64, order int) {
	switch k := len(j.x); {
	case k >= minSpotStops:
		order = 2
	case k >= 3:
		order = 1
	default:
		return f, nil, 0
	}
	columns := powers(centred(j.x), order)
	trendColumns := len(columns)
	for _, c := range j.claims {
		columns = append(columns, c.window.shape)
	}
	f, ok := leastSquares(columns, j.mean, j.rel)
	if !ok {
		return f, nil, 0
	}
	for i := range j.x {
		row := make([]float64, len(columns))
		for c := range trendColumns {
			row[c] = columns[c][i]
		}
		rows = append(rows, row)
	}
	return f, rows, order
}

// slope is the straight-line change per +1 cm of brace height.
func (j *judged) slope() Estimate[float64] {
	if j.pair != nil {
		return j.pairSlope()
	}
	if len(j.x) < 2 {
		return Unknown[float64]()
	}
	columns := powers(centred(j.x), 1)
	for _, c := range j.claims {
		columns = append(columns, c.window.shape)
	}
	f, ok := leastSquares(columns, j.mean, j.rel)
	if !ok {
		return Unknown[float64]()
	}
	row := make([]float64, len(columns))
	row[1] = 0.01 / ((j.x[len(j.x)-1] - j.x[0]) / 2)
	value, se := f.at(row)
	e := Unknown[float64]()
	e.Value = value
	if j.nu > 0 {
		e = around(value, j.t()*j.s*se)
	}
	return e
}

// broad is the bottom or top of the quadratic where its bend is plain (p <
// 0.01) and Fieller's interval of it lies between the first and last stop.
func (j *judged) broad() (at Estimate[unit.Length], hollow bool) {
	at = Unknown[unit.Length]()
	f, rows, order := j.smooth()
	if order < 2 || j.nu == 0 || rows == nil {
		return at, false
	}
	scale := j.s * j.s
	bend, se := f.coef[2], j.s*math.Sqrt(f.cov.At(2, 2))
	c := sq(j.t())
	set := quadraticSet(4*(bend*bend-c*scale*f.cov.At(2, 2)), 4*(f.coef[1]*bend-c*scale*f.cov.At(1, 2)), f.coef[1]*f.coef[1]-c*scale*f.cov.At(1, 1), Confidence)
	if math.Abs(bend) < quantileT(j.nu, 0.995)*se || !set.Bounded() || set.Low < -1 || set.High > 1 {
		return at, false
	}
	k := len(j.x)
	mid, half := (j.x[0]+j.x[k-1])/2, (j.x[k-1]-j.x[0])/2
	place := func(u float64) unit.Length { return unit.Length(mid + half*u) }
	return Estimate[unit.Length]{Value: place(-f.coef[1] / (2 * bend)), Low: place(set.Low), High: place(set.High), Level: Confidence}, bend > 0
}

func (j *judged) direction() string {
	switch s := j.slope(); {
	case s.High < 0:
		return "falls"
	case s.Low > 0:
		return "rises"
	}
	return ""
}
