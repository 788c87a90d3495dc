// Package workbench joins the notebook and the science: each file is one thing
// an archer wants done, from "what does this brace height do" to "which stop
// was the settled one".
package workbench

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"tautline/bow"
	"tautline/shot"
	"tautline/unit"
)

// Inputs is what a prediction needs to know of a bow, in the words of the
// model. FromSettings makes it from a notebook's settings.
type Inputs struct {
	Known bow.Known
	// StringMass replaces the mass that follows from the strands, if weighed.
	StringMass unit.Mass
	// Now is the present brace height to the pivot; Known.Brace is the one at
	// which draw weight and points were read, usually the same. 0: as Known.
	Now unit.Length
	// Turns are in the string now; TurnsCounted tells a count from a guess.
	Turns        float64
	TurnsCounted bool
	// ArrowMass is the whole arrow, usual 14 to 35 g.
	ArrowMass unit.Mass
	// ClipForce is the nock's hold on the string, usual 2 to 10 N.
	ClipForce unit.Force
	// Assumed says in words what was filled in because it was not given.
	Assumed []string
}

// defaultClip is a nock that clicks on and hangs (assumed: about 0.5 kgf).
const defaultClip unit.Force = 5

// Members is how many plausible bows stand behind each interval. The ends of
// a 90 % span over 32 draws are themselves uncertain by about a quarter of
// the span's width, which is fine for a doubt and cheap enough to be shown
// while a person waits.
const Members = 32

// BowModel is one bow of the generic family scaled to what is known of it,
// with a set of others that meet the same readings and differ in what nobody
// measured: limb shape, riser geometry, masses, string stiffness, damping.
//
// It is unfitted: nothing in it has seen this bow shoot. Changes between two
// settings are much better known than the settings' own values, because the
// same unknowns act on both; see Sweep.
type BowModel struct {
	in      Inputs
	Fit     bow.Fit
	members []member // the best bow first
}

// member is one plausible bow, ready to be braced.
type member struct {
	model *bow.Model
	// shift is this bow's true brace height less the one that was read.
	shift unit.Length
}

// seed makes the plausible bows of a bow the same at every call.
const seed = 1

// NewBowModel scales the generic family to what is known and draws the
// plausible bows. It takes some 50 ms; ctx stops it.
func NewBowModel(ctx context.Context, in Inputs) (*BowModel, error) {
	fit, err := bow.Scale(ctx, in.Known)
	if err != nil {
		return nil, err
	}
	plausible, err := fit.Ensemble(ctx, seed, Members)
	if err != nil {
		return nil, err
	}
	b := &BowModel{in: in, Fit: fit}
	if err := b.add(fit.Design, 0); err != nil {
		return nil, err
	}
	for i, d := range plausible.Members {
		if err := b.add(d, plausible.Braces[i]-fit.Brace()); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// newBestModel is NewBowModel without the plausible bows, for a search that
// asks for the best bow alone.
func newBestModel(ctx context.Context, in Inputs) (*BowModel, error) {
	fit, err := bow.Scale(ctx, in.Known)
	if err != nil {
		return nil, understand(err)
	}
	b := &BowModel{in: in, Fit: fit}
	return b, b.add(fit.Design, 0)
}

// add makes a member of a design.
func (b *BowModel) add(d bow.Design, shift unit.Length) error {
	if b.in.StringMass > 0 {
		d.String.Mass = b.in.StringMass
	}
	m, err := shot.NewModel(d, b.shotConfig())
	if err != nil {
		return err
	}
	b.members = append(b.members, member{m, shift})
	return nil
}

// Now is the brace height the bow is set to.
func (b *BowModel) Now() unit.Length {
	if b.in.Now > 0 {
		return b.in.Now
	}
	return b.Fit.Brace()
}

// Inputs gives back what the model was made from.
func (b *BowModel) Inputs() Inputs { return b.in }

func (b *BowModel) shotConfig() shot.Config {
	clip := b.in.ClipForce
	if clip == 0 {
		clip = defaultClip
	}
	return shot.Config{ArrowMass: b.in.ArrowMass, ClipForce: clip}
}

// outcome is what one bow does at one brace height.
type outcome struct {
	brace bow.State
	curve bow.Curve
	shot  shot.Result
	err   error
}

// at braces, draws and shoots one bow.
func (b *BowModel) at(m member, height unit.Length) (o outcome) {
	o.curve, o.err = m.model.Draw(height + m.shift)
	if o.err != nil {
		return o
	}
	o.brace = o.curve.Brace
	sim, err := shot.NewSimulatorAt(m.model, o.curve.Brace, o.curve.Full, b.shotConfig())
	if err != nil {
		o.err = err
		return o
	}
	o.shot, o.err = sim.Run()
	return o
}

// all runs every bow at every height, on all cores. The order of the work has
// no part in the results. progress, if not nil, is called with the share done.
func (b *BowModel) all(ctx context.Context, heights []unit.Length, progress func(float64)) ([][]outcome, error) {
	n := len(b.members)
	out := make([][]outcome, len(heights))
	for i := range out {
		out[i] = make([]outcome, n)
	}
	var mu sync.Mutex
	done := 0
	err := each(ctx, n*len(heights), func(k int) {
		i, j := k/n, k%n
		out[i][j] = b.at(b.members[j], heights[i])
		mu.Lock()
		defer mu.Unlock()
		done++
		if progress != nil {
			progress(float64(done) / float64(n*len(heights)))
		}
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// usable drops the plausible bows that could not be braced or shot at some
// height, the same bows at every height so that differences stay paired. The
// best bow must work.
func usable(all [][]outcome, heights []unit.Length) (keep []int, err error) {
	for i, row := range all {
		if row[0].err != nil {
			return nil, fmt.Errorf("at a brace height of %v: %w", heights[i], row[0].err)
		}
	}
	for j := 1; j < len(all[0]); j++ {
		fine := true
		for i := range all {
			fine = fine && all[i][j].err == nil
		}
		if fine {
			keep = append(keep, j)
		}
	}
	if len(keep) < Members/2 {
		return nil, errors.New("most plausible bows cannot be braced there; check brace height, bow length and draw length")
	}
	return keep, nil
}
