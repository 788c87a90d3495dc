package workbench

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"

	"tautline/arrow"
	"tautline/bow"
	"tautline/notebook"
	"tautline/num"
)

// FitAsk is what a bow is fitted from.
type FitAsk struct {
	// Settings of the bow as it is set up now: predictions and changes start
	// from here. Draw weight and draw-force points in them count as readings.
	Settings notebook.Settings
	Hand     arrow.Hand
	// MarksUpward: the sight scale's numbers grow upward.
	MarksUpward bool
	Readings    []Observation
	// Misses widen the model's error: for each kind of quantity, how many times
	// wider past forecasts say it must be (see Ledger); none counts as 1.
	Misses map[string]float64
	// Start is an earlier fit of the same bow to begin from; nil for none.
	Start *FittedBow
	// Turn, if not nil, is waited for before each piece of the fit, some tenth
	// of a second, and its end is called after it: between them others compute.
	Turn func(context.Context) (end func(), err error)
}

// inTurn does one piece of the fit.
func (a FitAsk) inTurn(ctx context.Context, piece func() error) error {
	if a.Turn == nil {
		return piece()
	}
	end, err := a.Turn(ctx)
	if err != nil {
		return err
	}
	defer end()
	return piece()
}

// FittedBow is one bow as its readings tell it: the generic family's most
// probable member, with the joint doubt of its parameters. It is never changed
// once made and may be wanted by many at once.
//
// It leaves out what shot, arrow and flight leave out; what that costs is in
// the model's error, which every interval of this file includes.
type FittedBow struct {
	rig  *rig
	ask  FitAsk
	u    []float64  // most probable place, in prior standard deviations
	cov  num.Matrix // of the place
	seen []seen
	// widen is by how much each class of reading says the model's error must
	// be larger, at least 1.
	widen    map[string]float64
	residual []float64 // of the readings, in their full standard deviations
	got      []float64 // what the fitted bow says of each
	Warnings []string
	// Steps and Status tell how the fit ended.
	Steps  int
	Status num.Status

	kept  sync.Mutex
	known map[Quantity]knownSlope // of the base
	gap   *float64                // the base's tail over the rest
	near  neighbours
}

// Rounds of fitting: the second with the model's error as the first's
// residuals show it.
const fitRounds = 2

// FitBow fits a bow to its readings: most probable parameters under their
// priors by Levenberg–Marquardt on residuals in standard deviations, their
// covariance by Laplace's approximation, the model's error from what is left.
// Without readings it is the scaled bow with its priors. It takes 0.2 to 3 s;
// progress, if not nil, is told the share done, and ctx stops it.
func FitBow(ctx context.Context, ask FitAsk, progress func(float64)) (*FittedBow, error) {
	f, err := prepare(ctx, ask)
	if err != nil {
		return nil, err
	}
	tell := func(share float64) {
		if progress != nil {
			progress(share)
		}
	}
	if s := ask.Start; s != nil && len(s.u) == len(f.u) {
		copy(f.u, s.u)
	}
	for round := range fitRounds {
		if err := ask.inTurn(ctx, func() error { return f.rig.weigh(ctx, f.u, f.seen) }); err != nil {
			return nil, err
		}
		if err := f.solve(ctx, func(part float64) { tell((float64(round) + part) / fitRounds) }); err != nil {
			return nil, understand(err)
		}
		if !f.learnError() {
			break
		}
	}
	if err := ask.inTurn(ctx, func() error { return f.settleDoubt(ctx) }); err != nil {
		return nil, understand(err)
	}
	f.ask.Start, f.ask.Turn = nil, nil // a fit holds no chain of those before it
	f.judge()
	tell(1)
	return f, nil
}

// prepare scales the bow and reads the observations.
func prepare(ctx context.Context, ask FitAsk) (*FittedBow, error) {
	in, err := FromSettings(ask.Settings)
	if err != nil {
		return nil, err
	}
	fit, err := bow.Scale(ctx, in.Known)
	if err != nil {
		return nil, understand(err)
	}
	g, err := newRig(fit, in, ask.Settings, ask.Hand)
	if err != nil {
		return nil, understand(err)
	}
	g.upward = ask.MarksUpward
	f := &FittedBow{rig: g, ask: ask, u: make([]float64, len(g.knobs)), widen: map[string]float64{}}
	if f.seen, err = g.observe(ask.Readings); err != nil {
		return nil, err
	}
	for kind, by := range ask.Misses {
		if by > 1 {
			f.widen[errorClass(kind)] = by
		}
	}
	f.startMarks()
	return f, nil
}

// startMarks brings the sight's zero near the first mark.
func (f *FittedBow) startMarks() {
	for _, o := range f.seen {
		if o.q.Kind != QMark {
			continue
		}
		if v, _, err := f.rig.values(context.Background(), f.u, []wanted{o.wanted}); err == nil {
			f.u[f.rig.at(kSightOrigin)] += (o.Value - v[0]) / originDoubt
		}
		return
	}
}

// sd is an observation's whole standard deviation.
func (f *FittedBow) sd(o seen) float64 { return math.Hypot(o.doubt, f.widened(o.q.Kind)*o.model) }

// widened is the factor on the model's error of a kind.
func (f *FittedBow) widened(kind string) float64 { return max(1, f.widen[errorClass(kind)]) }

func (f *FittedBow) wanted() []wanted {
	out := make([]wanted, len(f.seen))
	for i, o := range f.seen {
		out[i] = o.wanted
	}
	return out
}

// solve finds the most probable parameters and their covariance.
func (f *FittedBow) solve(ctx context.Context, progress func(float64)) error {
	g, list := f.rig, f.wanted()
	n, m := len(f.seen), len(g.knobs)
	var failed error
	residuals := func(p, r []float64) {
		var v []float64
		err := f.ask.inTurn(ctx, func() (err error) { v, _, err = g.values(ctx, p, list); return err })
		if err != nil {
			failed = err
			r[0] = math.NaN()
			return
		}
		for i, o := range f.seen {
			r[i] = (v[i] - o.Value) / f.sd(o)
		}
		copy(r[n:], p) // the prior is one in every direction
	}
	jacobian := func(p []float64, j num.Matrix) {
		clear(j.Data)
		var slopes num.Matrix
		err := f.ask.inTurn(ctx, func() (err error) { _, slopes, err = g.slopes(ctx, p, list, forward); return err })
		if err != nil {
			failed = err
			j.Set(0, 0, math.NaN())
			return
		}
		for i, o := range f.seen {
			for k, s := range slopes.Row(i) {
				j.Set(i, k, s/f.sd(o))
			}
		}
		for k := range m {
			j.Set(n+k, k, 1)
		}
	}
	fit := num.LevenbergMarquardt(num.FitProblem{Residuals: residuals, Jacobian: jacobian, Count: n + m}, f.u, num.FitControl{
		Tolerance: 1e-4, Evaluations: 60,
		Continue: func(step int, _ []float64, _ float64) bool {
			progress(float64(step) / float64(step+4))
			return ctx.Err() == nil
		},
	})
	if err := ctx.Err(); err != nil {
		return err
	}
	if fit.Jacobians == 0 || fit.Covariance.Rows != m {
		if failed == nil {
			failed = errors.New("the readings cannot be met")
		}
		return failed
	}
	f.u, f.cov, f.Steps, f.Status = fit.P, fit.Covariance, f.Steps+fit.Iterations, fit.Status
	f.residual = slices.Clone(fit.Residual[:n])
	f.got = make([]float64, n)
	for i, o := range f.seen {
		f.got[i] = o.Value + f.residual[i]*f.sd(o)
	}
	return nil
}

// settleDoubt takes the covariance anew with central differences: where the
// most probable place lies on a bend, either side alone misleads.
func (f *FittedBow) settleDoubt(ctx context.Context) error {
	if len(f.seen) == 0 {
		return nil
	}
	_, slopes, err := f.rig.slopes(ctx, f.u, f.wanted(), central)
	if err != nil {
		return err
	}
	n := len(f.u)
	a := num.NewMatrix(n, n)
	for j := range n {
		for k := range n {
			sum := 0.0
			for i, o := range f.seen {
				sum += slopes.At(i, j) * slopes.At(i, k) / (f.sd(o) * f.sd(o))
			}
			a.Set(j, k, sum)
		}
		a.Set(j, j, a.At(j, j)+1)
	}
	f.cov = inverse(a)
	return nil
}

// Weight of the prior that the model's error is as assumed, in readings.
const errorWeight = 4

// learnError widens the model's error of each class of reading to what its
// residuals show, and reports whether that calls for another round. The
// assumed error counts as errorWeight readings (a scaled inverse χ² prior);
// it never shrinks.
func (f *FittedBow) learnError() bool {
	sum, count := map[string]float64{}, map[string]float64{}
	for i, o := range f.seen {
		c := errorClass(o.q.Kind)
		sum[c] += f.residual[i] * f.residual[i]
		count[c]++
	}
	again := false
	for c, n := range count {
		scale := (errorWeight + sum[c]) / (errorWeight + n)
		if scale > 1.2 {
			f.widen[c] = max(1, f.widen[c]) * math.Sqrt(scale)
			again = true
		}
	}
	return again
}
