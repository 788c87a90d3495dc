package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// series is one measure over the stops at which it was taken.
type series struct {
	measure  Measure
	stops    []stop    // those with values
	x        []float64 // their brace heights, m
	mean     []float64
	rel      []float64 // variance of the mean in units of one shot's variance
	n        []int     // shots behind the mean
	shots    int
	s, nu    float64 // scatter of one shot and its degrees of freedom; nu 0: not known
	shotNu   float64 // nu before visits became the unit
	visitVar float64 // variance of a visit about its stop, above the shots' scatter
	drift    Estimate[float64]
	warnings []string
}

// seriesOf gathers a measure; ok is false if no stop has a value of it.
func seriesOf(r BraceReadings, m Measure, stops []stop) (series, bool) {
	se := series{measure: m, drift: Unknown[float64]()}
	within, df := 0.0, 0.0
	for _, st := range stops {
		n, sum := 0, 0.0
		for _, v := range st.visits {
			values := r.Visits[v].values(m)
			for _, y := range values {
				n, sum = n+1, sum+y
			}
			if len(values) > 1 {
				_, variance := stat.MeanVariance(values, nil)
				within, df = within+variance*float64(len(values)-1), df+float64(len(values)-1)
			}
		}
		if n == 0 {
			continue
		}
		se.stops, se.x = append(se.stops, st), append(se.x, float64(st.brace.Value))
		se.mean, se.rel = append(se.mean, sum/float64(n)), append(se.rel, 1/float64(n))
		se.n, se.shots = append(se.n, n), se.shots+n
	}
	if prior, ok := r.Prior[m]; ok && prior.SD > 0 && prior.DF > 0 {
		within, df = within+prior.SD*prior.SD*prior.DF, df+prior.DF
	}
	if df > 0 && within > 0 {
		se.s, se.nu, se.shotNu = math.Sqrt(within/df), df, df
	}
	se.revisits(r)
	se.stillSettling(r)
	return se, se.shots > 0
}

// stillSettling warns if the measure moves with the number of shots since the
// setting was made (pooled slope within visits, p < 0.01).
func (se *series) stillSettling(r BraceReadings) {
	var sxx, sxy, syy, df float64
	for _, st := range se.stops {
		for _, v := range st.visits {
			values := r.Visits[v].values(se.measure)
			if len(values) < 2 {
				continue
			}
			mean, mid := stat.Mean(values, nil), float64(len(values)-1)/2
			for i, y := range values {
				dx := float64(i) - mid
				sxx, sxy, syy = sxx+dx*dx, sxy+dx*(y-mean), syy+sq(y-mean)
			}
			df += float64(len(values) - 1)
		}
	}
	if df--; df < 3 || sxx == 0 {
		return
	}
	slope, rest := sxy/sxx, syy-sxy*sxy/sxx
	if rest > 0 && survivalT(df, math.Abs(slope)/math.Sqrt(rest/df/sxx)) < 0.005 {
		se.warnings = append(se.warnings, fmt.Sprintf("%s still moves by %+.2g %s a shot at the stops: the string had not settled, take more settling shots", se.measure.Name(), slope, se.measure.Unit()))
	}
}

// visitMean is one visit's mean at a stop that was visited more than once.
type visitMean struct {
	stop      int // index into se.stops
	at, y, rv float64
}

// revisits uses stops visited more than once: a steady drift over the visits
// is estimated from them and taken out if it is plain (p < 0.05), and if the
// visits still differ by more than their shots do, the visit becomes the unit.
func (se *series) revisits(r BraceReadings) {
	var list []visitMean
	for i, st := range se.stops {
		var own []visitMean
		for _, v := range st.visits {
			if values := r.Visits[v].values(se.measure); len(values) > 0 {
				own = append(own, visitMean{i, float64(v), stat.Mean(values, nil), 1 / float64(len(values))})
			}
		}
		if len(own) > 1 {
			list = append(list, own...)
		}
	}
	if len(list) == 0 || se.nu == 0 {
		return
	}
	se.estimateDrift(list)
	if se.drift.Known() && (se.drift.Low > 0 || se.drift.High < 0) {
		se.takeOutDrift(r)
		for i := range list {
			list[i].y -= se.drift.Value * list[i].at
		}
		se.warnings = append(se.warnings, se.measure.Name()+" drifted steadily over the session; the drift was estimated from the stops visited twice and taken out")
	}
	se.visitsAsUnits(r, list)
}

// within-stop sums of the visits, weighted by their shots.
func withinStops(list []visitMean) (sxx, sxy, syy float64, df int) {
	groups := map[int][]visitMean{}
	var order []int
	for _, v := range list {
		if groups[v.stop] == nil {
			order = append(order, v.stop)
		}
		groups[v.stop] = append(groups[v.stop], v)
	}
	for _, g := range order {
		var w, wx, wy float64
		for _, v := range groups[g] {
			w, wx, wy = w+1/v.rv, wx+v.at/v.rv, wy+v.y/v.rv
		}
		for _, v := range groups[g] {
			dx, dy := v.at-wx/w, v.y-wy/w
			sxx, sxy, syy = sxx+dx*dx/v.rv, sxy+dx*dy/v.rv, syy+dy*dy/v.rv
		}
		df += len(groups[g]) - 1
	}
	return sxx, sxy, syy, df
}

func (se *series) estimateDrift(list []visitMean) {
	sxx, sxy, _, _ := withinStops(list)
	if sxx == 0 {
		return
	}
	half := quantileT(se.nu, 1-(1-Confidence)/2) * se.s / math.Sqrt(sxx)
	se.drift = around(sxy/sxx, half)
}

// takeOutDrift refers every stop's mean to the middle of the session.
func (se *series) takeOutDrift(r BraceReadings) {
	mid := float64(len(r.Visits)-1) / 2
	for i, st := range se.stops {
		at, n := 0.0, 0.0
		for _, v := range st.visits {
			k := float64(len(r.Visits[v].values(se.measure)))
			at, n = at+k*float64(v), n+k
		}
		se.mean[i] -= se.drift.Value * (at/n - mid)
	}
}

// visitsAsUnits adds a variance between visits where they differ beyond their
// shots (F test at 5 %): one-way random effects by moments, the degrees of
// freedom by Satterthwaite (1946).
func (se *series) visitsAsUnits(r BraceReadings, list []visitMean) {
	_, _, ss, df := withinStops(list)
	if df == 0 || se.s == 0 {
		return
	}
	between := ss / float64(df)
	f := between / (se.s * se.s)
	if 1-(distuv.F{D1: float64(df), D2: se.nu}).CDF(f) > 0.05 {
		return
	}
	typical := 0.0
	for _, v := range list {
		typical += 1 / v.rv / float64(len(list))
	}
	se.visitVar = (between - se.s*se.s) / typical
	for i, st := range se.stops {
		visits := 0.0
		for _, v := range st.visits {
			if len(r.Visits[v].values(se.measure)) > 0 {
				visits++
			}
		}
		se.rel[i] += se.visitVar / (se.s * se.s) / visits
	}
	// s²·rel is now about between/n per visit: its doubt is that of `between`.
	se.nu = float64(df)
	se.warnings = append(se.warnings, se.measure.Name()+": visits to the same stop differ by more than their shots; each visit counts as one reading")
}

// quantileT is the p-quantile of Student's t; nu = +Inf gives the normal.
func quantileT(nu, p float64) float64 {
	if math.IsInf(nu, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
}

// survivalT is P(T > t) for Student's t.
func survivalT(nu, t float64) float64 {
	if math.IsInf(nu, 1) {
		return distuv.UnitNormal.Survival(t)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Survival(t)
}
