package workbench

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"tautline/bow"
	"tautline/notebook"
	"tautline/unit"
)

// WishKind is what an archer would like.
type WishKind string

// The wishes that can be advised on.
const (
	WishBareToGroup WishKind = "bare_to_group" // the bare shaft where the fletched arrows land
	WishFaster      WishKind = "faster"        // so many m/s more
	WishQuieter     WishKind = "quieter"       // less energy left in limbs and string
	WishSameTune    WishKind = "same_tune"     // after a change that has to be made
)

// Wish is one wish.
type Wish struct {
	Kind WishKind `json:"kind"`
	// Distance of the bare shaft; default 30 m.
	Distance unit.Length `json:"distance_m,omitempty"`
	// Offset is where the bare shaft lands now, right of the group, if it was
	// just read; nil lets the fitted bow say, which needs bare-shaft readings.
	Offset *float64 `json:"offset_right_m,omitempty"`
	// Speed is how much faster; default 2 m/s.
	Speed float64 `json:"speed_mps,omitempty"`
	// Forced are the settings of WishSameTune that have to change.
	Forced []Setting `json:"forced,omitempty"`
}

// Route is one way to a wish: a ready-made change.
type Route struct {
	Name string `json:"name"`
	// Settings to change, and the whole set-up afterwards.
	Settings []Setting         `json:"settings"`
	SetUp    notebook.Settings `json:"setup"`
	// Success is the predicted probability that the wish is met within its
	// tolerance.
	Success float64 `json:"success_ratio"`
	// Reached is what the wish's quantity will be, or change by.
	Reached Expected `json:"reached"`
	// Size of the change against what is usual in one step.
	Size float64 `json:"size_ratio"`
	// Reversible: nothing is cut or bought.
	Reversible bool     `json:"reversible"`
	Effects    []Effect `json:"side_effects"`
	Warnings   []string `json:"warnings"`
	Say        string   `json:"say"`
	score      float64
}

// Advice is two or three routes, best first, or why none is given.
type Advice struct {
	Wish     Wish     `json:"wish"`
	Routes   []Route  `json:"routes"`
	Withheld string   `json:"withheld,omitempty"`
	Notes    []string `json:"notes"`
}

// Tolerances within which a wish counts as met.
const (
	bareTolerance  = 0.03 // m at 30 m, in proportion elsewhere: what six arrows can show
	speedTolerance = 0.5  // m/s
	mostRoutes     = 3
)

// lever is a setting that a route may move.
type lever struct {
	name       string
	values     []float64 // to try, present one left out
	settings   func(v float64) []Setting
	usual      float64 // a usual step, for the size
	now        float64
	reversible bool
	note       string
}

// Advise finds routes to a wish: each lever is tried alone over the values
// that makers and hands allow, the value that comes nearest to the wish by the
// fitted bow is kept, and the routes are ranked by their probability of
// meeting it, less something for size, side effects and what cannot be undone.
// It takes up to a second; ctx stops it.
func (f *FittedBow) Advise(ctx context.Context, wish Wish) (Advice, error) {
	out := Advice{Wish: wish, Routes: []Route{}, Notes: []string{}}
	goal, err := f.goal(ctx, &out)
	if err != nil || out.Withheld != "" {
		return out, err
	}
	for _, l := range goal.levers {
		r, ok, err := f.route(ctx, goal, l)
		if err != nil {
			return out, err
		}
		if ok {
			out.Routes = append(out.Routes, r)
		}
	}
	rankRoutes(out.Routes)
	if n := len(out.Routes); n > 1 && out.Routes[0].Success < evenChance {
		r, ok, err := f.together(ctx, goal, out.Routes)
		if err != nil {
			return out, err
		}
		if ok {
			out.Routes = append(out.Routes, r)
			rankRoutes(out.Routes)
		}
	}
	out.Routes = out.Routes[:min(mostRoutes, len(out.Routes))]
	switch {
	case len(out.Routes) == 0:
		out.Withheld = "No change inside the makers' limits comes nearer to the wish as far as the fitted bow can tell."
	case len(out.Routes) == 1:
		out.Notes = append(out.Notes, "Only one route stays inside the limits and the window.")
	}
	return out, ctx.Err()
}

// evenChance is the chance of success below which two settings are moved together.
const evenChance = 0.5

// rankRoutes puts the best route first.
func rankRoutes(routes []Route) {
	slices.SortStableFunc(routes, func(a, b Route) int { return cmp.Compare(b.score, a.score) })
}

// together moves a second setting on top of the best route that one alone
// could not finish.
func (f *FittedBow) together(ctx context.Context, g goal, routes []Route) (best Route, ok bool, err error) {
	first := routes[0]
	from, err := f.rig.scene(first.SetUp)
	if err != nil {
		return best, false, err
	}
	for _, other := range routes[1:] {
		levers := f.levers(from, other.Name)
		if len(levers) == 0 {
			continue
		}
		next := g
		next.from = from
		r, found, err := f.route(ctx, next, levers[0])
		if err != nil {
			return best, false, err
		}
		if !found || r.Success <= first.Success+0.05 || ok && r.Success <= best.Success {
			continue
		}
		r.Name = first.Name + " and " + other.Name
		r.Settings = append(slices.Clone(first.Settings), r.Settings...)
		r.Size, r.Reversible = first.Size+r.Size, first.Reversible && r.Reversible
		r.score = score(r, len(r.Warnings))
		r.say(f.ask.Settings)
		best, ok = r, true
	}
	return best, ok, nil
}

// score is the chance of success less something for size, warnings and what
// cannot be undone.
func score(r Route, warnings int) float64 {
	s := r.Success * math.Exp(-0.1*r.Size) * math.Pow(0.95, float64(warnings))
	if !r.Reversible {
		s *= 0.7
	}
	return s
}

// say puts the route in one sentence.
func (r *Route) say(from notebook.Settings) {
	r.Say = fmt.Sprintf("%s: %s; %s of success.", r.Name, sayChange(from, r.SetUp), chance(r.Success))
}

// goal is a wish as numbers.
type goal struct {
	from    *scene // what routes start from
	against *scene // what the change is measured from
	q       Quantity
	change  float64 // wanted of q, against `against`
	doubt   float64 // of that
	within  float64
	atLeast int // +1: more is fine too, −1: less is fine too
	levers  []lever
	bare    bool // the target's window matters
}

func (f *FittedBow) goal(ctx context.Context, a *Advice) (goal, error) {
	base := f.rig.base
	g := goal{from: base, against: base}
	switch a.Wish.Kind {
	case WishFaster:
		if a.Wish.Speed == 0 {
			a.Wish.Speed = 2
		}
		g.q, g.change, g.within, g.atLeast = Quantity{Kind: QSpeed}, a.Wish.Speed, speedTolerance, 1
		g.levers = f.levers(base, "brace height", "point mass", "draw weight")
		a.Notes = append(a.Notes, "Every route to speed moves the bare shaft and the sight marks; below the bow maker's least arrow mass none is given.")
	case WishQuieter:
		g.q, g.atLeast = Quantity{Kind: QResidual}, -1
		v, _, err := f.rig.values(ctx, f.u, []wanted{{base, g.q}})
		if err != nil {
			return g, understand(err)
		}
		g.change, g.within = -0.1*v[0], 0.02*v[0]
		g.levers = f.levers(base, "brace height", "point mass")
		a.Notes = append(a.Notes, "Quieter is taken as a tenth less energy left in limbs and string when the arrow has gone; what the ear hears must be listened for, by a recording at each setting.")
	case WishBareToGroup, WishSameTune:
		return f.bareGoal(ctx, a)
	default:
		return g, &notebook.Error{Code: notebook.Invalid, Field: "/kind", Message: fmt.Sprintf("%q is no wish the program knows", a.Wish.Kind), Hint: "bare_to_group, faster, quieter or same_tune"}
	}
	return g, nil
}

// bareGoal is a wish about where the bare shaft lands.
func (f *FittedBow) bareGoal(ctx context.Context, a *Advice) (goal, error) {
	base := f.rig.base
	if a.Wish.Distance == 0 {
		a.Wish.Distance = 30
	}
	g := goal{from: base, against: base, q: Quantity{Kind: QBare, Distance: a.Wish.Distance}, bare: true}
	g.within = bareTolerance * float64(a.Wish.Distance) / 30
	if base.sideErr != nil {
		a.Withheld = "Nothing can be said of the bare shaft: " + base.sideErr.Error()
		return g, nil
	}
	if f.ask.Settings.StringWalking {
		a.Withheld = "String-walking: the model does not hold for a crawl, so nothing is advised about the bare shaft."
		return g, nil
	}
	if w, err := f.windowOf(base); err != nil || !w.In {
		a.Withheld = outsideWindow(w, err)
		return g, nil
	}
	if a.Wish.Kind == WishSameTune {
		if err := f.sameTune(&g, a); err != nil || a.Withheld != "" {
			return g, err
		}
	} else if err := f.offset(ctx, &g, a); err != nil {
		return g, err
	}
	g.levers = f.levers(g.from, "button", "centre shot", "brace height", "point mass", "static spine")
	if a.Wish.Kind == WishSameTune {
		g.levers = f.levers(g.from, "button", "centre shot", "point mass", "static spine")
	}
	return g, nil
}

// offset is where the bare shaft lands now: as just read, else as fitted.
func (f *FittedBow) offset(ctx context.Context, g *goal, a *Advice) error {
	if o := a.Wish.Offset; o != nil {
		g.change, g.doubt = -*o, UsualDoubt(g.q, usualArrows, 0)
		return nil
	}
	for _, o := range f.seen {
		if o.q.Kind != QBare {
			continue
		}
		t, err := f.Predict(ctx, f.ask.Settings, []Quantity{g.q})
		if err != nil {
			return err
		}
		g.change, g.doubt = -t[0].Value, t[0].SD
		return nil
	}
	a.Withheld = "Where the bare shaft lands on this bow was never read: shoot three bare and three fletched arrows first, and give the offset."
	return nil
}

// sameTune starts from the settings that have to change.
func (f *FittedBow) sameTune(g *goal, a *Advice) error {
	if len(a.Wish.Forced) == 0 {
		return &notebook.Error{Code: notebook.Invalid, Field: "/forced", Message: "what has to change is missing", Hint: "such as string_length = 166 cm or brace_height = 23 cm"}
	}
	s, err := withAll(f.ask.Settings, a.Wish.Forced)
	if err != nil {
		return err
	}
	if s, err = f.braceOfString(s); err != nil {
		return err
	}
	if g.from, err = f.rig.scene(s); err != nil {
		return err
	}
	if w := Warnings(s); len(w) > 0 {
		a.Notes = append(a.Notes, w...)
	}
	if g.from.limb.brace != f.rig.base.limb.brace {
		a.Notes = append(a.Notes, fmt.Sprintf("The brace height becomes %s.", lengthText(g.from.limb.brace, s)))
	}
	return nil
}

// braceOfString moves the brace height by what a string of another length
// does, where a set-up changes its length and says nothing of the brace.
func (f *FittedBow) braceOfString(s notebook.Settings) (notebook.Settings, error) {
	before, after := f.ask.Settings.String.Length, s.String.Length
	if after.IsZero() || after.Value == before.Value || s.BraceHeight != f.ask.Settings.BraceHeight {
		return s, nil
	}
	st, err := f.rig.world(f.u).stand(f.rig.base.limb)
	if err != nil {
		return s, understand(err)
	}
	was := 2 * st.brace.HalfRest
	if !before.IsZero() {
		was = before.Value
	}
	to, err := st.model.BraceWithString(st.brace.HalfRest + (after.Value-was)/2)
	if err != nil {
		return s, understand(err)
	}
	return s.With("brace_height", lengthText(f.rig.base.limb.brace+to.Nock-st.brace.Nock, s))
}

// levers of a scene, by name; those that its set-up says too little for are
// left out.
func (f *FittedBow) levers(from *scene, names ...string) (out []lever) {
	s := from.settings
	for _, n := range names {
		var l lever
		switch n {
		case "button":
			l = buttonLever(s)
		case "centre shot":
			l = centreLever(s)
		case "brace height":
			l = braceLever(s, from)
		case "point mass":
			l = pointLever(s)
		case "static spine":
			l = spineLever(s)
		case "draw weight":
			l = weightLever(s)
		}
		if len(l.values) > 0 {
			out = append(out, l)
		}
	}
	return out
}

// steps lists the values from low to high in steps, the present one left out.
func steps(low, high, step, now float64) (out []float64) {
	for n := math.Ceil(low/step - 1e-9); n*step <= high+1e-9*step; n++ {
		if v := n*step + 0; math.Abs(v-now) > step/4 {
			out = append(out, v)
		}
	}
	return out
}

// Limits of what a hand or a shop offers (common practice, no source).
const (
	mostTurns    = 8.0
	leastCentre  = 0.0
	mostCentre   = 4e-3
	leastPoint   = 60.0 // gr
	mostPoint    = 150.0
	shaftStep    = 50.0
	weightShare  = 0.06 // of the draw weight, what limb bolts span
	usualBraceUp = 0.010
)

func buttonLever(s notebook.Settings) lever {
	if s.Button.Turns == nil {
		return lever{}
	}
	now := *s.Button.Turns
	return lever{
		name: "button", now: now, values: steps(math.Max(0, now-3), math.Min(mostTurns, now+3), 0.25, now), usual: 1, reversible: true,
		settings: func(v float64) []Setting { return []Setting{{"button", fmt.Sprintf("%g", v)}} },
	}
}

func centreLever(s notebook.Settings) lever {
	if s.CentreShot.IsZero() {
		return lever{}
	}
	now := float64(s.CentreShot.Value)
	return lever{
		name: "centre shot", now: now, values: steps(math.Max(leastCentre, now-1.5e-3), math.Min(mostCentre, now+1.5e-3), 0.25e-3, now), usual: 0.5e-3, reversible: true,
		settings: func(v float64) []Setting {
			return []Setting{{"centre_shot", unit.Length(v).Format(unit.MM, 2, unit.Point)}}
		},
		note: "It moves where the fletched arrows land too: set the sight anew.",
	}
}

// braceLever stays inside the limb maker's range, which must be known.
func braceLever(s notebook.Settings, from *scene) lever {
	r, known := Range(s)
	if !known {
		return lever{}
	}
	c, err := r.Check(from.limb.brace, s.Riser.Offset.Value)
	if err != nil {
		return lever{}
	}
	now := float64(from.limb.brace)
	low, high := math.Max(float64(c.OnRiser.Low), now-0.02), math.Min(float64(c.OnRiser.High), now+0.02)
	return lever{
		name: "brace height", now: now, values: steps(low, high, 1e-3, now), usual: usualBraceUp, reversible: true,
		settings: func(v float64) []Setting { return []Setting{{"brace_height", lengthText(unit.Length(v), s)}} },
		note:     "By twisting the string, with a stringer; read the nocking point again afterwards.",
	}
}

// pointLever changes the point and never goes below the least arrow mass.
func pointLever(s notebook.Settings) lever {
	a := s.Arrow
	if a.PointMass.IsZero() {
		return lever{}
	}
	now := float64(a.PointMass.Value / unit.Grain)
	var values []float64
	for _, d := range []float64{-30, -20, -10, 10, 20, 30} {
		v := now + d
		light := !a.MinimumMass.IsZero() && a.Mass.Value+unit.Mass(d)*unit.Grain < a.MinimumMass.Value
		if v >= leastPoint && v <= mostPoint && !light {
			values = append(values, v)
		}
	}
	l := lever{
		name: "point mass", now: now, values: values, usual: 10,
		settings: func(v float64) []Setting {
			return []Setting{
				{"point_mass", (unit.Mass(v) * unit.Grain).Format(unit.Gr, 1, unit.Point)},
				{"arrow_mass", (a.Mass.Value + unit.Mass(v-now)*unit.Grain).Format(unit.Gr, 1, unit.Point)},
			}
		},
		note: "Try it on borrowed or spare points first.",
	}
	if a.MinimumMass.IsZero() {
		l.note += " The bow maker's least arrow mass is not noted: check it before going lighter."
	}
	return l
}

func spineLever(s notebook.Settings) lever {
	if s.Arrow.Spine.IsZero() {
		return lever{}
	}
	now := float64(s.Arrow.Spine.Value / unit.ThousandthInch)
	return lever{
		name: "static spine", now: now, values: []float64{now - 2*shaftStep, now - shaftStep, now + shaftStep, now + 2*shaftStep}, usual: shaftStep,
		settings: func(v float64) []Setting { return []Setting{{"spine", fmt.Sprintf("%.0f", v)}} },
		note:     "Borrow a shaft of that spine and shoot it before buying.",
	}
}

// weightLever is what limb bolts span, about.
func weightLever(s notebook.Settings) lever {
	now := float64(s.Draw.Weight.Value)
	return lever{
		name: "draw weight", now: now, values: steps(now*(1-weightShare), now*(1+weightShare), 0.5*float64(unit.PoundForce), now), usual: float64(unit.PoundForce), reversible: true,
		settings: func(v float64) []Setting {
			return []Setting{{"draw_weight", unit.Force(v).Format(unit.Lbf, 1, unit.Point)}}
		},
		note: "By the limb bolts, as far as their maker allows and the archer can hold; tiller moves with them.",
	}
}

// route finds the best value of a lever; not ok when it comes no nearer.
func (f *FittedBow) route(ctx context.Context, g goal, l lever) (Route, bool, error) {
	best, sc, err := f.nearestValue(ctx, g, l)
	if err != nil || sc == nil {
		return Route{}, false, err
	}
	r := Route{Name: l.name, Settings: l.settings(best), SetUp: sc.settings, Size: math.Abs(best-l.now) / l.usual, Reversible: l.reversible, Warnings: []string{}}
	if l.note != "" {
		r.Warnings = append(r.Warnings, l.note)
	}
	of := f.whatIfQuantities()
	if !slices.Contains(of, g.q) {
		of = append(of, g.q)
	}
	w, err := f.foresee(ctx, f.ask.Settings, sc.settings, of)
	if err != nil {
		return Route{}, false, err
	}
	if g.bare && !w.InWindow {
		return Route{}, false, nil
	}
	at := slices.IndexFunc(w.Effects, func(e Effect) bool { return e.Quantity == g.q }) // where heights cannot be told the effects are fewer
	if at < 0 || w.Effects[at].Withheld != "" {
		return Route{}, false, nil
	}
	r.Reached = w.Effects[at].Expected
	r.Success = g.success(r.Reached)
	if forced := f.withoutLever(g, r.Reached); r.Success <= forced {
		return Route{}, false, nil
	}
	r.Effects, r.Warnings = w.Effects, append(r.Warnings, w.Warnings...)
	r.score = score(r, len(w.Warnings))
	r.say(f.ask.Settings)
	return r, true, ctx.Err()
}

// success is the probability that the change falls within the tolerance.
func (g goal) success(t Expected) float64 {
	sd := math.Hypot(t.SD, g.doubt)
	below := func(x float64) float64 {
		if sd == 0 {
			sd = 1e-12
		}
		return 0.5 * (1 + math.Erf((x-t.Value)/sd/math.Sqrt2))
	}
	switch g.atLeast {
	case 1:
		return 1 - below(g.change-g.within)
	case -1:
		return below(g.change + g.within)
	}
	return below(g.change+g.within) - below(g.change-g.within)
}

// withoutLever is the success of leaving the lever alone, as sure as the
// route's own doubt.
func (f *FittedBow) withoutLever(g goal, t Expected) float64 {
	if g.from == g.against {
		return g.success(Expected{Value: 0, SD: 0})
	}
	v, _, err := f.rig.values(context.Background(), f.u, []wanted{{g.against, g.q}, {g.from, g.q}})
	if err != nil {
		return 0
	}
	return g.success(Expected{Value: v[1] - v[0], SD: t.SD})
}

// nearestValue tries the lever's values at the most probable parameters: all
// coarsely, then those beside the best.
func (f *FittedBow) nearestValue(ctx context.Context, g goal, l lever) (best float64, at *scene, err error) {
	start, _, err := f.rig.values(ctx, f.u, []wanted{{g.against, g.q}, {g.from, g.q}})
	if err != nil {
		return 0, nil, understand(err)
	}
	miss := math.Abs(start[1] - start[0] - g.change)
	stride := max(1, len(l.values)/6)
	tried := map[int]bool{}
	try := func(i int) {
		if i < 0 || i >= len(l.values) || tried[i] || ctx.Err() != nil {
			return
		}
		tried[i] = true
		s, err := withAll(g.from.settings, l.settings(l.values[i]))
		if err != nil {
			return
		}
		sc, err := f.rig.scene(s)
		if err != nil || outsideRange(s) {
			return
		}
		v, _, err := f.rig.values(ctx, f.u, []wanted{{sc, g.q}})
		if err != nil {
			return
		}
		if m := math.Abs(v[0] - start[0] - g.change); m < miss {
			miss, best, at = m, l.values[i], sc
		}
	}
	for i := 0; i < len(l.values); i += stride {
		try(i)
	}
	if at != nil {
		i := slices.Index(l.values, best)
		for d := 1; d < stride; d++ {
			try(i - d)
			try(i + d)
		}
	}
	return best, at, ctx.Err()
}

// outsideRange reports a set-up whose brace height the limb maker forbids.
func outsideRange(s notebook.Settings) bool {
	c, ok := CheckRange(s)
	return ok && c.Side != bow.InsideRange
}

// sayChange lists what is changed in words.
func sayChange(from, to notebook.Settings) string {
	diff, err := notebook.Diff(from, to)
	if err != nil {
		return ""
	}
	var words []string
	for _, d := range diff {
		if d.Key != "draw.at_brace_height" {
			words = append(words, d.String())
		}
	}
	return strings.Join(words, ", ")
}

// chance is a probability as a person says it.
func chance(p float64) string {
	switch {
	case p > 0.9:
		return "more than nine chances in ten"
	case p < 0.1:
		return "less than one chance in ten"
	case p < 0.15:
		return "about one chance in ten"
	}
	return fmt.Sprintf("about %.0f chances in ten", 10*p)
}
