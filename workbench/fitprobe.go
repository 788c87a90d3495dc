package workbench

import (
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"tautline/flight"
	"tautline/notebook"
	"tautline/unit"
)

// plausible are places of the fit's parameters: the most probable first, then
// as many as wanted drawn from the fit's own doubt, always the same ones.
func (f *FittedBow) plausible(n int) [][]float64 {
	size := len(f.u)
	sym := mat.NewSymDense(size, nil)
	for i := range size {
		for j := range i + 1 {
			sym.SetSym(i, j, f.cov.At(i, j))
		}
		sym.SetSym(i, i, f.cov.At(i, i)*(1+1e-9)) // rounding must not make it indefinite
	}
	var root mat.TriDense
	if c := new(mat.Cholesky); c.Factorize(sym) {
		c.LTo(&root)
	} else {
		return [][]float64{f.u}
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	out := [][]float64{f.u}
	for range n {
		z := mat.NewVecDense(size, nil)
		for i := range size {
			z.SetVec(i, rng.NormFloat64())
		}
		var moved mat.VecDense
		moved.MulVec(&root, z)
		u := make([]float64, size)
		for i := range u {
			u[i] = f.u[i] + moved.AtVec(i)
		}
		out = append(out, u)
	}
	return out
}

// shows is what a set-up shows on the fitted bow, and on bows as plausible as
// the readings leave it: Probe with the fit instead of the generic family.
func (f *FittedBow) shows(ctx context.Context, s notebook.Settings, bows int, distances []unit.Length) (Shows, error) {
	return f.overBows(ctx, s, bows, func(u []float64, sc *scene) (map[Quantity]float64, error) { return f.rig.seenAt(u, sc, distances) })
}

// rises is what bare shafts of a set-up show in height, on the same bows.
func (f *FittedBow) rises(ctx context.Context, s notebook.Settings, bows int, distances []unit.Length) (Shows, error) {
	return f.overBows(ctx, s, bows, func(u []float64, sc *scene) (map[Quantity]float64, error) { return f.rig.risenAt(u, sc, distances) })
}

// overBows looks at a set-up on each plausible bow.
func (f *FittedBow) overBows(ctx context.Context, s notebook.Settings, bows int, look func(u []float64, sc *scene) (map[Quantity]float64, error)) (Shows, error) {
	s.String.Length = notebook.Length{}
	sc, err := f.rig.scene(s)
	if err != nil {
		return Shows{}, understand(err)
	}
	places := f.plausible(bows)
	rows := make([]map[Quantity]float64, len(places))
	ok := make([]bool, len(places))
	err = each(ctx, len(places), func(j int) {
		seen, err := look(places[j], sc)
		rows[j], ok[j] = seen, err == nil
	})
	if err != nil {
		return Shows{}, err
	}
	return gathered(rows, ok)
}

// risenAt shoots the bow of one place of the parameters up and down. Where the
// tail touches the rest a height says nothing: that bow has none.
func (g *rig) risenAt(u []float64, sc *scene, distances []unit.Length) (map[Quantity]float64, error) {
	a, err := newAnswers(g.world(u), nil)
	if err != nil {
		return nil, err
	}
	gap, err := a.restGap(sc)
	if err != nil {
		return nil, err
	}
	seen := map[Quantity]float64{}
	for _, d := range distances {
		v, err := a.lifted(wanted{sc, at(OfBareUp, d)})
		if err != nil {
			return nil, err
		}
		if gap < float64(LeastTailGap) {
			v = math.NaN()
		}
		seen[at(OfBareUp, d)] = v
	}
	return seen, nil
}

// gathered turns one row a bow into one a quantity.
func gathered(rows []map[Quantity]float64, ok []bool) (Shows, error) {
	if !ok[0] {
		return Shows{}, understand(fmt.Errorf("this set-up cannot be braced or shot"))
	}
	out := Shows{of: map[Quantity][]float64{}, ok: ok}
	for q := range rows[0] {
		out.of[q] = make([]float64, len(rows))
		for j := range rows {
			out.of[q][j] = rows[j][q]
		}
	}
	return out, nil
}

// seenAt shoots the bow of one place of the parameters.
func (g *rig) seenAt(u []float64, sc *scene, distances []unit.Length) (map[Quantity]float64, error) {
	of := askAll(sc, []Quantity{{Kind: OfSpeed}, {Kind: OfDrawWeight}, {Kind: OfTime}, {Kind: OfLeftBehind}})
	if sc.sideErr == nil {
		of = append(of, wanted{sc, Quantity{Kind: QClearance}})
	}
	a, err := newAnswers(g.world(u), of)
	if err != nil {
		return nil, err
	}
	seen := map[Quantity]float64{}
	for _, k := range of {
		if seen[k.q], err = a.value(k); err != nil {
			return nil, err
		}
	}
	if sc.sideErr != nil {
		return seen, nil
	}
	seen[Quantity{Kind: OfBend}] = sc.arrow.Frequencies()[0] * seen[Quantity{Kind: OfTime}]
	l, err := a.leave(sc)
	if err != nil {
		return nil, err
	}
	f, err := a.w.flyers(sc)
	if err != nil {
		return nil, err
	}
	aside := 0.0
	if !l.result.Window().In {
		aside = math.NaN()
	}
	launch := l.launch
	launch.YawRate += a.w.other(kYawRate)
	seen[Quantity{Kind: OfYawRate}] = l.result.Clear.YawRate + a.w.other(kYawRate) + aside
	return seen, f.see(seen, launch, aside, distances)
}

// see adds what the arrow and its bare twin do at each distance. Up is minus
// the elevation that hits, times the distance: what the point does on the face
// when sight and archer stay as they were.
func (f flyers) see(seen map[Quantity]float64, l flight.Launch, aside float64, distances []unit.Length) error {
	for _, d := range distances {
		elevation, hit, err := f.fletched.Aim(l, flight.Wind{}, d, 0)
		if err != nil {
			return err
		}
		aimed := l
		aimed.Elevation = elevation
		bare, err := f.bare.Fly(aimed, flight.Wind{}, d)
		if err != nil {
			return err
		}
		seen[at(OfBare, d)] = float64(bare.Right-hit.Right) + aside
		seen[at(OfRight, d)] = float64(hit.Right) + aside
		seen[at(OfUp, d)] = -float64(elevation) * float64(d)
	}
	return nil
}

// carry takes the pin away from the eye to so many times its distance, as a
// longer draw does: what has to stay is R tan δ (eq. 9 of docs/theory/flight.md),
// in the base's reach; to first order in the small angles.
func (s Shows) carry(reach float64, distances []unit.Length) {
	for _, d := range distances {
		up := s.of[at(OfUp, d)]
		for i := range up {
			up[i] = float64(usualEye) - reach*(float64(usualEye)-up[i])
		}
	}
}

// ownError is the model's own error in what moving one entry does, drawn for
// each bow: a factor on the effect, and a size for each unit moved. The same
// draws hold however far the entry moves, so that a size never shrinks with
// the distance. The most probable bow has none.
type ownError struct{ factor, per []float64 }

// ownError draws the errors of an entry; base and moved are scenes one step
// apart.
func (f *FittedBow) ownError(m mover, base notebook.Settings, q Quantity, bows int) (e ownError, err error) {
	moved := base
	from, _ := m.read(base)
	m.write(&moved, from+m.step)
	a, err := f.rig.scene(base)
	if err != nil {
		return e, err
	}
	b, err := f.rig.scene(moved)
	if err != nil {
		return e, err
	}
	group := settingGroup(m.key)
	p, named := partErrors[q.Kind][group]
	if !named {
		p.share = unknownShare
		if s, known := otherShares[q.Kind]; known {
			p.share = s
		}
	}
	wide := f.widened(q.Kind)
	per := wide * p.step * q.farther() * stepsBetween(group, a, b) / m.step
	h := fnv.New64a()
	fmt.Fprint(h, m.key, q.Kind)
	rng := rand.New(rand.NewPCG(seed, h.Sum64()))
	e = ownError{make([]float64, bows), make([]float64, bows)}
	e.factor[0] = 1
	for i := 1; i < bows; i++ {
		e.factor[i] = 1 + wide*p.share*rng.NormFloat64()
		e.per[i] = per * rng.NormFloat64()
	}
	return e, nil
}

// widen puts the errors of bow i on what moving by delta does to it.
func (e ownError) widen(i int, delta, at, most, first float64) (float64, float64, float64) {
	if e.factor == nil {
		return at, most, first
	}
	size, per := math.Abs(e.factor[i]), math.Abs(e.per[i])
	return at*e.factor[i] + e.per[i]*delta, most*size + per*math.Abs(delta), first*size + per
}
