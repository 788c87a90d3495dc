package workbench

import (
	"context"
	"fmt"
	"math"

	"tautline/arrow"
	"tautline/notebook"
	"tautline/shot"
	"tautline/unit"
)

// Shows are what one set-up shows, one entry for each plausible bow, the best
// first. Two set-ups probed alike are paired bow by bow, so that what both
// share cancels in the difference.
type Shows struct {
	of map[Quantity][]float64
	ok []bool // bows that could be braced, shot and flown
}

// The quantities that a probe sees, beside those of a fit. Right is right as
// seen from the shooting line.
const (
	OfSpeed      = QSpeed      // m/s as the arrow leaves
	OfDrawWeight = QDrawWeight // N at the archer's draw length
	OfTime       = QTime       // s
	OfLeftBehind = QResidual   // J left in limbs and string
	OfBare       = QBare       // m right of the fletched centre, as notebook.ReadBareShaft
	OfRight      = QGroup      // m, the sight left as it was
	OfUp         = "group_centre_up"
	OfBend       = "arrow_bends"   // periods of the arrow's first bending mode on the string
	OfYawRate    = "exit_yaw_rate" // rad/s
)

// at is a quantity seen at a distance.
func at(kind string, distance unit.Length) Quantity { return Quantity{Kind: kind, Distance: distance} }

// leastBows is how many plausible bows must stand behind an interval.
const leastBows = 8

// paired gives a quantity over the bows that worked in both probes, the best
// bow's first. ok is false when the best bow did not work.
func paired(a, b Shows, q Quantity) (from, to []float64, ok bool) {
	x, y := a.of[q], b.of[q]
	if len(x) == 0 || len(x) != len(y) || !a.ok[0] || !b.ok[0] {
		return nil, nil, false
	}
	for i := range x {
		if a.ok[i] && b.ok[i] && !math.IsNaN(x[i]) && !math.IsNaN(y[i]) {
			from, to = append(from, x[i]), append(to, y[i])
		}
	}
	return from, to, len(from) >= leastBows && !math.IsNaN(x[0]) && !math.IsNaN(y[0])
}

// Change is the difference of a quantity from one probe to another over the
// plausible bows; ok is false where the model gives none.
func (s Shows) Change(to Shows, q Quantity) (Estimate[float64], bool) {
	a, b, ok := paired(s, to, q)
	if !ok {
		return Estimate[float64]{}, false
	}
	d := make([]float64, len(a))
	for i := range a {
		d[i] = b[i] - a[i]
	}
	return estimate(d[0], d[1:]), true
}

// Value is a quantity with its interval.
func (s Shows) Value(q Quantity) (Estimate[float64], bool) {
	v, _, ok := paired(s, s, q)
	if !ok {
		return Estimate[float64]{}, false
	}
	return estimate(v[0], v[1:]), true
}

// Probe says what a set-up shows at the distances asked. An arrow without a
// static spine gives the bow's own quantities only; one whose tail strikes the
// button (arrow.Window) gives nothing sideways. It takes about 60 ms and
// 2 ms a distance for each set-up; ctx stops it. The string's length, which
// belongs to one brace height only, is not used: with it the plausible bows of
// two brace heights would not be the same bows.
func Probe(ctx context.Context, s notebook.Settings, hand arrow.Hand, distances ...unit.Length) (Shows, error) {
	return probe(ctx, s, hand, Members, distances, &bench{})
}

// bench keeps the bow models that were made, by what was known: an arrow, a
// button or a brace height of the same bow needs no new one.
type bench struct{ models map[string]*BowModel }

// model gives a bow's model at the inputs' own brace height, with as many
// plausible bows as asked for.
func (b *bench) model(ctx context.Context, in Inputs, bows int) (*BowModel, error) {
	key := fmt.Sprintf("%+v %v %v %v %d", in.Known, in.StringMass, in.ArrowMass, in.ClipForce, bows)
	m, ok := b.models[key]
	if !ok {
		var err error
		if m, err = NewBowModel(ctx, in); err != nil {
			return nil, understand(err)
		}
		m.members = m.members[:min(len(m.members), bows+1)]
		if b.models == nil {
			b.models = map[string]*BowModel{}
		}
		b.models[key] = m
	}
	here := *m
	here.in = in
	return &here, nil
}

// probe is Probe with fewer plausible bows, where many set-ups are looked at
// and their interval matters less than what it is compared with.
func probe(ctx context.Context, s notebook.Settings, hand arrow.Hand, bows int, distances []unit.Length, on *bench) (Shows, error) {
	s.String.Length = notebook.Length{}
	in, err := FromSettings(s)
	if err != nil {
		return Shows{}, err
	}
	b, err := on.model(ctx, in, bows)
	if err != nil {
		return Shows{}, err
	}
	ok := make([]bool, len(b.members))
	rows := make([]map[Quantity]float64, len(b.members))
	look, err := b.lookout(s, hand, distances)
	if err != nil {
		return Shows{}, err
	}
	err = each(ctx, len(b.members), func(j int) {
		rows[j] = look(j)
		ok[j] = rows[j] != nil
	})
	if err != nil {
		return Shows{}, err
	}
	return gathered(rows, ok)
}

// lookout gives the function that shoots one plausible bow and notes what is
// seen, nil where that bow fails.
func (b *BowModel) lookout(s notebook.Settings, hand arrow.Hand, distances []unit.Length) (func(j int) map[Quantity]float64, error) {
	height := b.Now()
	if s.Arrow.Spine.IsZero() {
		return func(j int) map[Quantity]float64 {
			o := b.at(b.members[j], height)
			if o.err != nil {
				return nil
			}
			return onTheBow(o)
		}, nil
	}
	side, err := SidewaysFromSettings(s, hand)
	if err != nil {
		return nil, err
	}
	a, err := arrow.New(side.Arrow, arrow.Resolution{})
	if err != nil {
		return nil, understand(err)
	}
	f, err := newFlyers(side.Arrow, side.Air)
	if err != nil {
		return nil, understand(err)
	}
	unknown := draws(len(b.members), side.CentreKnown)
	return func(j int) map[Quantity]float64 {
		o := b.at(b.members[j], height)
		if o.err != nil {
			return nil
		}
		seen := onTheBow(o)
		if b.atTheTarget(seen, j, o, a, unknown[j].apply(side.Setup), f, distances) != nil {
			return nil
		}
		seen[Quantity{Kind: OfBend}] = a.Frequencies()[0] * seen[Quantity{Kind: OfTime}]
		return seen
	}, nil
}

func onTheBow(o outcome) map[Quantity]float64 {
	return map[Quantity]float64{
		{Kind: OfSpeed}: speed(o), {Kind: OfDrawWeight}: drawWeight(o), {Kind: OfTime}: timeOnString(o), {Kind: OfLeftBehind}: leftBehind(o),
	}
}

// atTheTarget adds what the arrow and its bare twin do at each distance.
func (b *BowModel) atTheTarget(seen map[Quantity]float64, j int, o outcome, a *arrow.Arrow, set arrow.Setup, f flyers, distances []unit.Length) error {
	cfg := b.shotConfig()
	cfg.Model = shot.Resolved
	drive, err := driveOf(b.members[j].model, o.brace, o.curve.Full, drawSlope(o.curve), cfg)
	if err != nil {
		return err
	}
	sim, err := arrow.NewSimulator(arrow.Config{})
	if err != nil {
		return err
	}
	r, err := sim.Shoot(a, drive, set)
	if err != nil {
		return err
	}
	l := launchOf(a, &r)
	// Outside the window the tail strikes the button and a bare shaft's place
	// says nothing that a tuner could use: such a bow is left out sideways.
	aside := 0.0
	if !r.Window().In {
		aside = math.NaN()
	}
	seen[Quantity{Kind: OfYawRate}] = r.Clear.YawRate + aside
	return f.see(seen, l, aside, distances)
}
