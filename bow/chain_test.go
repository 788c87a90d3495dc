package bow

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tautline/unit"
)

// No mass is lost or moved: lumps and bars both carry the limb's mass, the
// bars also its first moment along the limb.
func TestChainCarriesTheLimbsMass(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 13))
	for range 20 {
		d, _ := randomBow(r)
		for _, o := range []Options{{}, {N: 24}, {N: 7, G: -1, Scheme: Plain}} {
			c, err := Discretize(d, o)
			if err != nil {
				t.Fatal(err)
			}
			p := newProfile(d)
			var mass, moment float64
			const n = 40000
			for i := range n {
				s := p.l * (float64(i) + 0.5) / n
				mass += p.density(s) * p.l / n
				moment += s * p.density(s) * p.l / n
			}
			lumps := c.RootMass
			var bars, barMoment float64
			for i := range c.N {
				lumps += c.NodeMass[i]
				bars += c.P[i] + 2*c.Q[i] + c.R[i]
				h := c.S[i+1] - c.S[i]
				barMoment += (c.P[i]+2*c.Q[i]+c.R[i])*c.S[i] + h*(c.Q[i]+c.R[i])
			}
			// midpoint sum of 40000 cells: 1e-8
			if math.Abs(lumps/mass-1) > 1e-7 || math.Abs(bars/mass-1) > 1e-7 || math.Abs(barMoment/moment-1) > 1e-7 {
				t.Errorf("lumps %.9f, bars %.9f, limb %.9f kg; moment %.9f of %.9f", lumps, bars, mass, barMoment, moment)
			}
		}
	}
}

// Unstressed nodes lie on the drawn shape.
func TestChainLiesOnTheDrawnShape(t *testing.T) {
	d := Generic()
	p := newProfile(d)
	for _, n := range []int{8, 12, 24} {
		c, err := Discretize(d, Options{N: n})
		if err != nil {
			t.Fatal(err)
		}
		var x, y, cx, cy float64
		for i := range n {
			const m = 2000
			for k := range m {
				s := c.S[i] + (c.S[i+1]-c.S[i])*(float64(k)+0.5)/m
				sin, cos := math.Sincos(p.angle(s))
				x, y = x+sin*(c.S[i+1]-c.S[i])/m, y+cos*(c.S[i+1]-c.S[i])/m
			}
			sin, cos := math.Sincos(c.Natural[i])
			cx, cy = cx+c.Len[i]*sin, cy+c.Len[i]*cos
			// midpoint sum of 2000 cells a link: 1e-9
			if math.Hypot(x-cx, y-cy) > 2e-8 {
				t.Errorf("N = %d, node %d is off the curve by %.1e m", n, i+1, math.Hypot(x-cx, y-cy))
			}
		}
	}
}

// The joint weights integrate compliance times a lever arm, to fourth order in
// the refined scheme even over the knots of the profile.
func TestJointWeights(t *testing.T) {
	d := Generic()
	p := newProfile(d)
	l := p.l
	lever := func(s float64) float64 { return (l - s) * (1 + 3*s) }
	var exact float64
	const n = 200000
	for i := range n {
		s := l * (float64(i) + 0.5) / n
		exact += lever(s) / p.bending(s) * l / n
	}
	errAt := func(o Options) float64 {
		c, err := Discretize(d, o)
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for i, k := range c.K {
			sum += lever(c.S[i]) / k
		}
		return math.Abs(sum/exact - 1)
	}
	plain, refined := errAt(Options{Scheme: Plain}), errAt(Options{})
	if refined > plain/3 {
		t.Errorf("N = 12: plain %.1e, refined %.1e", plain, refined)
	}
	// fourth order: a sixteenth for twice the joints, allow a tenth
	for _, n := range []int{24, 48} {
		finer := errAt(Options{N: n})
		if finer > refined/10+1e-10 {
			t.Errorf("refined: %.1e with %d links, %.1e with %d", refined, n/2, finer, n)
		}
		refined = finer
	}
}

// Contact points of the refined chain stand on the rounded belly: within a
// tenth of the sagitta of the arc through the nodes, and never behind it.
func TestContactsStandOnTheBelly(t *testing.T) {
	d := Generic()
	p := newProfile(d)
	c, err := Discretize(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	px, py := make([]float64, 2*c.N), make([]float64, 2*c.N)
	c.Points(c.Natural, c.X0, c.Y0, px, py)
	xs, ys := unstressedCurve(&p, 4000)
	for j, k := range c.Contacts {
		if c.S[k.Link] < p.xiR*p.l { // turns toward the archer there
			continue
		}
		off := math.Inf(1)
		for i := range xs {
			off = math.Min(off, math.Hypot(xs[i]+c.X0-px[j], ys[i]+c.Y0-py[j]))
		}
		sagitta := c.Len[k.Link] * math.Max(0, -c.Beta[k.Link]) / 8
		if off > 0.12*sagitta+1e-4 {
			t.Errorf("contact %d is %.2e m off the belly, sagitta %.2e m", j, off, sagitta)
		}
	}
	if last := c.Contacts[len(c.Contacts)-1]; last != (Contact{c.N - 1, 1, 0}) {
		t.Errorf("the last contact point is %+v, not the tip", last)
	}
}

func TestOptionsAreChecked(t *testing.T) {
	for _, o := range []Options{{N: 3}, {N: 1, Scheme: Plain}, {N: 500}, {G: 2}, {Scheme: 9}, {G: math.NaN()}} {
		var input *InputError
		if _, err := Discretize(Generic(), o); !errors.As(err, &input) || !strings.HasPrefix(input.Field, "Options.") {
			t.Errorf("%+v gave %v", o, err)
		}
	}
}

// Every number of a design that cannot be is refused by name.
func TestValidateNamesTheField(t *testing.T) {
	nan := math.NaN()
	for field, spoil := range map[string]func(*Design){
		"Riser.PocketX":       func(d *Design) { d.Riser.PocketX = 50 },
		"Riser.PocketY":       func(d *Design) { d.Riser.PocketY = 0 },
		"Riser.PocketAngle":   func(d *Design) { d.Riser.PocketAngle = 10 },
		"Riser.Mass":          func(d *Design) { d.Riser.Mass = -1 },
		"Riser.HandStiffness": func(d *Design) { d.Riser.HandStiffness = unit.Stiffness(nan) },
		"Riser.HandDamping":   func(d *Design) { d.Riser.HandDamping = -1 },
		"Limb.Length":         func(d *Design) { d.Limb.Length = 588 },
		"Limb.Width[2]":       func(d *Design) { d.Limb.Width[2] = 36 },
		"Limb.Thickness[4]":   func(d *Design) { d.Limb.Thickness[4] = 0 },
		"Limb.Modulus":        func(d *Design) { d.Limb.Modulus = 30 },
		"Limb.StiffnessScale": func(d *Design) { d.Limb.StiffnessScale = 0 },
		"Limb.Density":        func(d *Design) { d.Limb.Density = 1.35 },
		"Limb.Preset":         func(d *Design) { d.Limb.Preset = 3 },
		"Limb.InnerFraction":  func(d *Design) { d.Limb.InnerFraction = 1 },
		"Limb.Recurve":        func(d *Design) { d.Limb.Recurve = 57 },
		"Limb.RecurvePower":   func(d *Design) { d.Limb.RecurvePower = -1 },
		"Limb.TipMass":        func(d *Design) { d.Limb.TipMass = 5.5 },
		"Limb.JointDamping":   func(d *Design) { d.Limb.JointDamping = 1 },
		"Limb.MassDamping":    func(d *Design) { d.Limb.MassDamping = nan },
		"String.EA":           func(d *Design) { d.String.EA = 0 },
		"String.Mass":         func(d *Design) { d.String.Mass = 7 },
		"String.NockMass":     func(d *Design) { d.String.NockMass = -0.001 },
		"String.Damping":      func(d *Design) { d.String.Damping = 1 },
		"FullDraw":            func(d *Design) { d.FullDraw = 29 },
	} {
		d := Generic()
		spoil(&d)
		_, err := New(d, Options{})
		var input *InputError
		if !errors.As(err, &input) || !strings.Contains(err.Error(), field) || input.Try == "" {
			t.Errorf("%s: %v", field, err)
		}
	}
	d := Generic()
	d.Limb.Length, d.String.EA = 0, 0
	if err := d.Validate(); err == nil || !strings.Contains(err.Error(), "Limb.Length") || !strings.Contains(err.Error(), "String.EA") {
		t.Errorf("two wrong fields: %v", err)
	}
	if err := Generic().Validate(); err != nil {
		t.Errorf("the generic bow: %v", err)
	}
	if s := fmt.Sprint(Plain, Refined); s != "plain refined" {
		t.Errorf("schemes print as %q", s)
	}
}
