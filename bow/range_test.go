package bow

import (
	"errors"
	"math"
	"sync"
	"testing"

	"tautline/unit"
)

// model.md section 1, "Riser geometry": a pivot 10 mm further back makes every
// reading 10 mm smaller, so reading + 10 mm is what the range is about.
func TestRangeCheck(t *testing.T) {
	r := BraceRange{0.210, 0.230}
	for _, c := range []struct {
		reading, offset unit.Length
		side            Side
		outside         float64
	}{
		{0.220, 0, InsideRange, -0.010},
		{0.205, 0, BelowRange, 0.005},
		{0.205, 0.010, InsideRange, -0.005},
		{0.223, 0.010, AboveRange, 0.003},
		{0.223, -0.010, InsideRange, -0.003},
		{0.210, 0, InsideRange, 0},
		{0.230, 0, InsideRange, 0},
	} {
		got, err := r.Check(c.reading, c.offset)
		if err != nil || got.Side != c.side || math.Abs(float64(got.Outside)-c.outside) > 1e-12 {
			t.Errorf("reading %v, offset %v: %+v, %v", c.reading, c.offset, got, err)
		}
		if math.Abs(float64(got.OnRiser.Low-(r.Low-c.offset))) > 1e-15 || math.Abs(float64(got.Corrected-got.Reading-c.offset)) > 1e-15 {
			t.Errorf("range on this riser: %+v", got)
		}
	}
	var input *InputError
	for _, err := range []error{
		second(BraceRange{0.23, 0.21}.Check(0.22, 0)), second(r.Check(22, 0)), second(r.Check(0.22, 10)),
	} {
		if !errors.As(err, &input) {
			t.Errorf("a wrong entry gave %v", err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// model.md section 1: a pivot further back draws the limbs further at the
// archer's draw length, so it adds weight, and lowers the reading by as much
// with the same string.
func TestPivotOffsetInTheModel(t *testing.T) {
	base := mustModel(t, Generic(), Options{})
	var last unit.Force
	for _, offset := range []unit.Length{-0.01, 0, 0.01, 0.02} {
		m := mustModel(t, Generic().WithPivotOffset(offset), Options{})
		sameBrace, sameString, err := Compare(base, m, 0.22)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(sameString.Brace+offset)) > 1e-9 || math.Abs(float64(sameString.Tension)) > 1e-6 {
			t.Errorf("offset %v, same string: %+v", offset, sameString)
		}
		if offset > -0.01 && sameString.Weight <= last {
			t.Errorf("offset %v: weight changes by %v, less than at the offset before, %v", offset, sameString.Weight, last)
		}
		last = sameString.Weight
		if offset > 0 && !(sameBrace.Weight > 0 && sameString.Stored > 0) {
			t.Errorf("offset %v: %+v, %+v", offset, sameBrace, sameString)
		}
		// the weight added is about the curve's slope at full draw times the offset
		c, err := base.Draw(0.22)
		if err != nil {
			t.Fatal(err)
		}
		n := len(c.Points)
		slope := float64(c.Points[n-1].Force-c.Points[n-2].Force) / float64(c.Points[n-1].Nock-c.Points[n-2].Nock)
		// the curve steepens: a quarter of slope over 2 cm
		if want := slope * float64(offset); math.Abs(float64(sameString.Weight)-want) > 0.25*math.Abs(want)+1e-6 {
			t.Errorf("offset %v: weight %v, slope says %.3f N", offset, sameString.Weight, want)
		}
	}
}

// model.md section 1: limb bolts change Φ0, hence the weight. Pockets leaning
// toward the archer unbend the limb: less weight, less tension, monotone.
func TestPocketAngleInTheModel(t *testing.T) {
	base := mustModel(t, Generic(), Options{})
	var last Effect
	for i, more := range []unit.Angle{-0.02, -0.01, 0.01, 0.02} {
		sameBrace, sameString, err := Compare(base, mustModel(t, Generic().WithPocketAngle(more), Options{}), 0.22)
		if err != nil {
			t.Fatal(err)
		}
		if float64(sameBrace.Weight)*float64(more) >= 0 || float64(sameBrace.Tension)*float64(more) >= 0 {
			t.Errorf("pockets by %v: %+v", more, sameBrace)
		}
		if i > 0 && !(sameBrace.Weight < last.Weight && sameBrace.Tension < last.Tension) {
			t.Errorf("pockets by %v: %+v after %+v", more, sameBrace, last)
		}
		last = sameBrace
		if math.Abs(float64(sameString.Brace)) > 0.01 {
			t.Errorf("pockets by %v move the brace height by %v with the same string", more, sameString.Brace)
		}
	}
}

// A model is shared between goroutines.
func TestModelIsShared(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	want, err := m.Draw(0.22)
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 20 {
				got, err := m.Draw(0.22)
				if err != nil || got.Stored != want.Stored || got.Full.Force != want.Full.Force {
					t.Errorf("shared model gave %v, %v; alone %v", got.Stored, err, want.Stored)
				}
			}
		})
	}
	wg.Wait()
}

// A chain written out from arrays is checked, and a state belongs to its model.
func TestChainAndStateBelongTogether(t *testing.T) {
	m := mustModel(t, Generic(), Options{})
	if err := m.Chain().Validate(); err != nil {
		t.Error(err)
	}
	for name, spoil := range map[string]func(*Chain){
		"K":        func(c *Chain) { c.K = c.K[1:] },
		"Len":      func(c *Chain) { c.Len = append([]float64{-1}, c.Len[1:]...) },
		"Contacts": func(c *Chain) { c.Contacts = c.Contacts[:5] },
		"N":        func(c *Chain) { c.N = 0 },
	} {
		c := *m.Chain()
		spoil(&c)
		var input *InputError
		if err := c.Validate(); !errors.As(err, &input) {
			t.Errorf("%s: %v", name, err)
		}
	}
	other := mustBrace(t, mustModel(t, Generic(), Options{N: 24}), 0.22)
	var input *InputError
	if _, err := m.At(other, 0.5); !errors.As(err, &input) {
		t.Errorf("a state of another chain: %v", err)
	}
	if _, err := m.Curve(t.Context(), State{}, 0.5, 25); !errors.As(err, &input) {
		t.Errorf("an empty state: %v", err)
	}
}
