package bow

import (
	"fmt"

	"tautline/unit"
)

// BraceRange is the brace heights a limb maker allows, for a riser whose pivot
// lies where it usually does.
type BraceRange struct{ Low, High unit.Length }

// Validate reports an empty or impossible range.
func (r BraceRange) Validate() error {
	if !(r.Low > 0 && r.Low < r.High && r.High < 0.5) {
		return &InputError{"BraceRange", fmt.Sprintf("%.0f to %.0f mm is not a range", float64(r.Low)*1e3, float64(r.High)*1e3), "210 to 230 mm"}
	}
	return nil
}

// Side says where a reading stands to a range.
type Side string

// The three places a reading can stand.
const (
	BelowRange  Side = "below"
	InsideRange Side = "inside"
	AboveRange  Side = "above"
)

// RangeCheck compares one reading with the limb's range.
type RangeCheck struct {
	Reading   unit.Length // as read on this riser, to the pivot
	Corrected unit.Length // what the reading would be on the usual riser
	Range     BraceRange  // for the usual riser
	OnRiser   BraceRange  // the same range as it reads on this riser
	Side      Side
	// Outside is how far outside the range the reading is; inside, how far
	// from the nearer end, as a negative length.
	Outside unit.Length
}

// Check compares a reading with the range on a riser whose pivot lies offset
// further back, toward the limb pockets' line, than usual: such a riser reads
// smaller by the offset, so reading + offset is what the range is about
// (eq. 20).
func (r BraceRange) Check(reading, offset unit.Length) (RangeCheck, error) {
	if err := r.Validate(); err != nil {
		return RangeCheck{}, err
	}
	if err := mm("offset", offset, -0.06, 0.06, "10 mm").check(); err != nil {
		return RangeCheck{}, err
	}
	if err := mm("reading", reading, 0.05, 0.4, "220 mm").check(); err != nil {
		return RangeCheck{}, err
	}
	c := RangeCheck{
		Reading: reading, Corrected: reading + offset, Range: r, Side: InsideRange,
		OnRiser: BraceRange{r.Low - offset, r.High - offset},
	}
	c.Outside = max(r.Low-c.Corrected, c.Corrected-r.High)
	switch {
	case c.Corrected < r.Low:
		c.Side = BelowRange
	case c.Corrected > r.High:
		c.Side = AboveRange
	}
	return c, nil
}

// WithPivotOffset is the design on a riser whose pivot lies offset further
// back than this one's: the pockets come nearer to the pivot by the offset,
// and at the archer's draw length the limbs are drawn further.
func (d Design) WithPivotOffset(offset unit.Length) Design {
	d.Riser.PocketX -= offset
	return d
}

// WithPocketAngle is the design with both limb bolts turned so that the
// pockets lean by more toward the archer.
func (d Design) WithPocketAngle(more unit.Angle) Design {
	d.Riser.PocketAngle += more
	return d
}

// Effect is the difference that a change of design makes, after minus before.
type Effect struct {
	Brace    unit.Length // brace height
	HalfRest unit.Length // half string
	Tension  unit.Force  // at brace
	Weight   unit.Force  // at full draw
	Stored   unit.Energy
}

// Compare returns what turning one model into another does to a bow braced at
// the given height: with the string adjusted to the same brace height, and
// with the string left as it is.
func Compare(before, after *Model, brace unit.Length) (sameBrace, sameString Effect, err error) {
	a, err := before.Draw(brace)
	if err != nil {
		return Effect{}, Effect{}, fmt.Errorf("before the change: %w", err)
	}
	b, err := after.Draw(brace)
	if err != nil {
		return Effect{}, Effect{}, fmt.Errorf("after the change: %w", err)
	}
	c, err := after.DrawString(a.Brace.HalfRest)
	if err != nil {
		return Effect{}, Effect{}, fmt.Errorf("after the change, with the same string: %w", err)
	}
	return difference(a, b), difference(a, c), nil
}

func difference(a, b Curve) Effect {
	return Effect{
		Brace: b.Brace.Nock - a.Brace.Nock, HalfRest: b.Brace.HalfRest - a.Brace.HalfRest,
		Tension: b.Brace.Tension - a.Brace.Tension, Weight: b.Full.Force - a.Full.Force, Stored: b.Stored - a.Stored,
	}
}
