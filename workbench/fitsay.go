package workbench

import (
	"context"
	"fmt"
	"math"
	"slices"

	"tautline/notebook"
	"tautline/num"
)

// Expected is a value the fitted bow says, with its doubt.
type Expected struct {
	Quantity Quantity `json:"quantity"`
	Value    float64  `json:"value"` // SI
	SD       float64  `json:"sd"`    // parameters and model together
	Low      float64  `json:"low"`   // 90 %
	High     float64  `json:"high"`
	Unit     string   `json:"unit"`
	// Model is the part of SD that is the model's own error.
	Model float64 `json:"model_sd"`
}

// Sure is the probability that the value has its sign.
func (t Expected) Sure() float64 {
	if t.SD == 0 {
		return 1
	}
	return 0.5 * (1 + math.Erf(math.Abs(t.Value)/t.SD/math.Sqrt2))
}

// SureSign is how sure a change's direction must be before it is said.
const SureSign = 0.975

// Direction says "right", "left", "more" or "less" is safe to say of a
// change: +1, −1, or 0 for "cannot tell".
func (t Expected) Direction() int {
	switch {
	case t.Sure() < SureSign:
		return 0
	case t.Value > 0:
		return 1
	}
	return -1
}

func saying(q Quantity, value, parameters, model float64) Expected {
	sd := math.Sqrt(math.Max(0, parameters) + model*model)
	return Expected{Quantity: q, Value: value, SD: sd, Low: value - z90*sd, High: value + z90*sd, Unit: q.Unit(), Model: model}
}

// spread is gᵀΣg.
func (f *FittedBow) spread(g []float64) float64 { return quadratic(f.cov, g, g) }

func quadratic(c num.Matrix, a, b []float64) (sum float64) {
	for i, u := range a {
		if u == 0 {
			continue
		}
		for j, v := range b {
			sum += u * c.At(i, j) * v
		}
	}
	return sum
}

// Predict says what a set-up would show, absolute. Places on the target are
// only as good as the readings of that very bow; changes are better.
func (f *FittedBow) Predict(ctx context.Context, s notebook.Settings, of []Quantity) ([]Expected, error) {
	sc, err := f.rig.scene(s)
	if err != nil {
		return nil, err
	}
	v, jac, err := f.slopes(ctx, sc, of)
	if err != nil {
		return nil, understand(err)
	}
	parts, err := f.rig.parts(ctx, f.u, f.rig.base, sc, of, nil, v)
	if err != nil {
		return nil, understand(err)
	}
	out := make([]Expected, len(of))
	for i, q := range of {
		out[i] = saying(q, v[i], f.spread(jac.Row(i)), f.modelError(q, parts, i))
	}
	return out, nil
}

// modelError is the model's own error of a quantity after the changes.
func (f *FittedBow) modelError(q Quantity, parts []part, i int) float64 {
	sum := q.floor() * q.floor()
	for _, p := range parts {
		e := q.ofPart(p, i)
		sum += e * e
	}
	return f.widened(q.Kind) * math.Sqrt(sum)
}

// slopes of a scene's quantities at the fitted place; the base's are kept,
// because every question starts there.
func (f *FittedBow) slopes(ctx context.Context, sc *scene, of []Quantity) ([]float64, num.Matrix, error) {
	if sc != f.rig.base {
		a, err := newAnswers(f.rig.world(f.u), askAll(sc, of))
		if err != nil {
			return nil, num.Matrix{}, err
		}
		return f.slopesFrom(ctx, a, sc, of)
	}
	f.kept.Lock()
	defer f.kept.Unlock()
	if f.known == nil {
		f.known = map[Quantity]knownSlope{}
	}
	var missing []Quantity
	for _, q := range of {
		if _, ok := f.known[q]; !ok {
			missing = append(missing, q)
		}
	}
	if len(missing) > 0 {
		asks := askAll(sc, missing)
		a, err := newAnswers(f.rig.world(f.u), asks)
		if err != nil {
			return nil, num.Matrix{}, err
		}
		v, jac, err := a.slopes(ctx, f.u, asks, central, beside{&f.near, &f.near})
		if err != nil {
			return nil, jac, err
		}
		for i, q := range missing {
			f.known[q] = knownSlope{v[i], jac.Row(i)}
		}
	}
	out, jac := make([]float64, len(of)), num.NewMatrix(len(of), len(f.u))
	for i, q := range of {
		out[i] = f.known[q].value
		copy(jac.Row(i), f.known[q].slope)
	}
	return out, jac, nil
}

// slopesFrom are a set-up's slopes from what was computed of it at the most
// probable place; what the base's neighbours were strung and loosed for is
// taken from them.
func (f *FittedBow) slopesFrom(ctx context.Context, a *answers, sc *scene, of []Quantity) ([]float64, num.Matrix, error) {
	if sc == f.rig.base {
		return f.slopes(ctx, sc, of)
	}
	return a.slopes(ctx, f.u, askAll(sc, of), central, beside{lender: &f.near})
}

// knownSlope is a quantity of the base with its slopes.
type knownSlope struct {
	value float64
	slope []float64
}

// Part is one setting's share of a change, alone.
type Part struct {
	Key    string    `json:"key"`
	Label  string    `json:"label"`
	Effect []float64 `json:"effect"` // of each quantity, SI
}

// Shift is what moving from one set-up to another does.
type Shift struct {
	From, To []float64 // most probable values
	Change   []Expected
	// Parts say what each changed setting does alone.
	Parts []Part
}

// Change says what moving from one set-up to another does to the quantities.
// What both share cancels, so that a change is much better known than either
// end. No change at all is certain.
func (f *FittedBow) Change(ctx context.Context, from, to notebook.Settings, of []Quantity) (Shift, error) {
	a, err := f.rig.scene(from)
	if err != nil {
		return Shift{}, err
	}
	b, err := f.rig.scene(to)
	if err != nil {
		return Shift{}, err
	}
	return f.change(ctx, a, b, of)
}

func (f *FittedBow) change(ctx context.Context, a, b *scene, of []Quantity) (Shift, error) {
	at, err := newAnswers(f.rig.world(f.u), askAll(b, of))
	if err != nil {
		return Shift{}, err
	}
	return f.changeFrom(ctx, a, b, at, of)
}

// changeFrom is change with what was computed of the second set-up.
func (f *FittedBow) changeFrom(ctx context.Context, a, b *scene, at *answers, of []Quantity) (Shift, error) {
	out := Shift{}
	before, start, err := f.slopes(ctx, a, of)
	if err != nil {
		return out, understand(err)
	}
	after, end, err := f.slopesFrom(ctx, at, b, of)
	if err != nil {
		return out, understand(err)
	}
	parts, err := f.rig.parts(ctx, f.u, a, b, of, before, after)
	if err != nil {
		return out, understand(err)
	}
	for _, p := range parts {
		out.Parts = append(out.Parts, Part{p.key, p.label, p.effect})
	}
	out.From, out.To = before, after
	for i, q := range of {
		if len(parts) == 0 {
			out.Change = append(out.Change, saying(q, 0, 0, 0))
			continue
		}
		g := slices.Clone(end.Row(i))
		for k, s := range start.Row(i) {
			g[k] -= s
		}
		out.Change = append(out.Change, saying(q, after[i]-before[i], f.spread(g), f.changeError(q, parts, i)))
	}
	return out, nil
}

// changeError is the model's own error of a change.
func (f *FittedBow) changeError(q Quantity, parts []part, i int) float64 {
	sum := 0.0
	for _, p := range parts {
		e := q.ofPart(p, i)
		sum += e * e
	}
	return f.widened(q.Kind) * math.Sqrt(sum)
}

// A reading that lies further off than disagrees, in its standard deviations,
// is named, unless it lies off by less than the share pulled of the worst of
// its kind.
const disagrees, pulled = 2.5, 0.6

// judge names the readings that disagree with the rest.
func (f *FittedBow) judge() {
	f.Warnings = append(f.Warnings, f.rig.fit.Notes...)
	worst := map[string]float64{}
	for i, o := range f.seen {
		c := errorClass(o.q.Kind)
		worst[c] = math.Max(worst[c], math.Abs(f.residual[i]))
	}
	for i, o := range f.seen {
		// what lies off by much less than the worst of its kind was pulled by it
		if off := math.Abs(f.residual[i]); off > math.Max(disagrees, pulled*worst[errorClass(o.q.Kind)]) {
			f.Warnings = append(f.Warnings, fmt.Sprintf("%s disagrees with the rest by %.1f of its standard deviations: read %s, the fitted bow says %s. %s",
				o.Name, off, plainValue(o.Value, o.q), plainValue(f.got[i], o.q), usualCause(o.q.Kind)))
		}
	}
	for _, o := range f.seen {
		if o.touching {
			f.Warnings = append(f.Warnings, o.Name+": by the model the tail touches the rest there, so that this height counts for little. Powder the tail and look.")
		}
	}
	if f.Status != num.Done && f.Status != num.Singular {
		f.Warnings = append(f.Warnings, "The fit did not settle: "+f.Status.String()+". Take its numbers as a first guess.")
	}
}

// plainValue is a value for a warning, in the trade's usual units.
func plainValue(v float64, q Quantity) string {
	switch q.Kind {
	case QBare, QBareUp, QGroup:
		return fmt.Sprintf("%+.1f cm", 100*v)
	case QMark, QBrace, QString, QClearance:
		return fmt.Sprintf("%.1f mm", 1e3*v)
	case QSpeed:
		return fmt.Sprintf("%.1f m/s", v)
	case QDrawWeight, QDrawForce:
		return fmt.Sprintf("%.1f lbf", v/4.4482216)
	case QTime:
		return fmt.Sprintf("%.2f ms", 1e3*v)
	}
	return fmt.Sprintf("%.2f %s", v, q.Unit())
}

// usualCause says what most often makes a reading of this kind wrong (common
// practice, no source).
func usualCause(kind string) string {
	switch kind {
	case QSpeed:
		return "Usual causes: another arrow than noted, a short draw, the chronograph's light."
	case QBare:
		return "Usual causes: a bare shaft lighter than its fletched twins, too few arrows, a button or spine other than noted."
	case QBareUp:
		return "Usual causes: the tail touched the rest, a bare shaft lighter than its fletched twins, the nocking point read to another edge."
	case QGroup:
		return "Usual causes: the sight moved in between, wind from the side, too few arrows."
	case QDrawWeight, QDrawForce:
		return "Usual causes: the scale hooked off the nock, a draw length measured from another point, limb bolts moved since."
	case QMark:
		return "Usual causes: a misread scale, another sight extension, wind along the shot."
	case QBrace:
		return "Usual causes: turns miscounted, the string not yet shot in, another edge of the square."
	}
	return "Read it again."
}

// Equivalent says by how much a setting would have to move, at the second
// set-up, to bring a quantity back to what it was at the first: the shift, in
// the setting's own unit, of the setting that a result decided. probe is that
// setting moved by size (one turn, a millimetre); sd is the shift's standard
// deviation from the change's own, with the probe's answer taken as known.
func (f *FittedBow) Equivalent(ctx context.Context, from, to notebook.Settings, probe Setting, size float64, q Quantity) (shift, sd float64, err error) {
	moved, err := f.Change(ctx, from, to, []Quantity{q})
	if err != nil {
		return 0, 0, err
	}
	probed, err := to.With(probe.Key, probe.Value)
	if err != nil {
		return 0, 0, err
	}
	answer, err := f.Change(ctx, to, probed, []Quantity{q})
	if err != nil {
		return 0, 0, err
	}
	slope := answer.Change[0].Value / size
	if slope == 0 || math.IsNaN(slope) {
		return 0, 0, &notebook.Error{Code: notebook.Invalid, Field: probe.Key, Message: fmt.Sprintf("%s does not move %s in the model", probe.Key, q), Hint: "a setting that does"}
	}
	return -moved.Change[0].Value / slope, moved.Change[0].SD / math.Abs(slope), nil
}
