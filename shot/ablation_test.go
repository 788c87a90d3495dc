package shot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"tautline/bow"
	"tautline/unit"
)

// TestAblation takes the production model apart on random bows and prints what
// each part is worth against the same model with 48 links and 24 nodes. It
// decides nothing and takes a while: SHOT_ABLATION=40 in the environment runs
// it over 40 bows. The table stands in docs/decisions/0002-production-shot.md.
func TestAblation(t *testing.T) {
	count := 0
	if _, err := fmt.Sscan(os.Getenv("SHOT_ABLATION"), &count); err != nil || count < 1 {
		t.Skip("set SHOT_ABLATION to a number of bows")
	}
	errs := map[string][]float64{}
	r := rand.New(rand.NewPCG(40, 31415))
	for range count {
		d, brace, cfg := randomBow(r)
		d.Limb.JointDamping = 0
		cfg.Links, cfg.Nodes, cfg.Fraction = 48, 24, 0.94
		exact := shoot(t, d, brace, cfg).Speed
		cfg.Links, cfg.Nodes, cfg.Fraction = 0, 0, 0
		for _, v := range ablations {
			errs[v.name] = append(errs[v.name], float64(v.run(t, d, brace, cfg)-exact))
		}
	}
	for _, v := range ablations {
		e := errs[v.name]
		t.Logf("| %s | %+.3f | %.3f | %.3f | %.3f |", v.name, mean(e), rms(e), share(e, 0.9), share(e, 1))
	}
}

// ablation is one way to leave something out.
type ablation struct {
	name  string
	limb  func(d bow.Design, plain, refined *bow.Chain) bow.Chain
	cable func(c *cable, half float64)
	cfg   func(c *Config)
}

var ablations = []ablation{
	{name: "limb: point masses, 5/12 and 13/12 ends, contact at nodes", limb: func(_ bow.Design, p, _ *bow.Chain) bow.Chain { return pointMasses(*p) }},
	{name: "+ bar masses", limb: func(_ bow.Design, p, _ *bow.Chain) bow.Chain { return *p }},
	{name: "+ third-order Gregory ends", limb: func(d bow.Design, p, r *bow.Chain) bow.Chain {
		c := *p
		c.K = withoutKnots(d, r)
		return c
	}},
	{name: "+ knot correction", limb: func(_ bow.Design, p, r *bow.Chain) bow.Chain {
		c := *p
		c.K = r.K
		return c
	}},
	{name: "+ node offset", limb: func(_ bow.Design, _, r *bow.Chain) bow.Chain {
		c := *r
		c.Contacts = nil
		for _, at := range r.Contacts {
			if at.F == 1 {
				c.Contacts = append(c.Contacts, at)
			}
		}
		return c
	}},
	{name: "+ mid-link points: production"},
	{name: "string: lumped masses", cable: func(c *cable, half float64) { respread(c, half, 1.0/2, 0) }},
	{name: "string: consistent masses", cable: func(c *cable, half float64) { respread(c, half, 1.0/3, 1.0/6) }},
	{name: "string: η = 1", cfg: func(c *Config) { c.Softening = 1 }},
	{name: "string: η = 1/4", cfg: func(c *Config) { c.Softening = 0.25 }},
	{name: "string: η = 1/64", cfg: func(c *Config) { c.Softening = 1.0 / 64 }},
	{name: "string: K = 5", cfg: func(c *Config) { c.Nodes = 5 }},
	{name: "string: K = 8", cfg: func(c *Config) { c.Nodes = 8 }},
	{name: "string: K = 8, φ = 0.86", cfg: func(c *Config) { c.Nodes, c.Fraction = 8, 0.86 }},
	{name: "string: K = 16", cfg: func(c *Config) { c.Nodes = 16 }},
	{name: "string: thirds (Lumped)", cfg: func(c *Config) { c.Model = Lumped }},
	{name: "10 links", cfg: func(c *Config) { c.Links = 10 }},
	{name: "16 links", cfg: func(c *Config) { c.Links = 16 }},
}

func (v ablation) run(t *testing.T, d bow.Design, brace unit.Length, cfg Config) unit.Speed {
	t.Helper()
	if v.cfg != nil {
		v.cfg(&cfg)
	}
	m, err := NewModel(d, cfg)
	if err != nil {
		t.Fatal(err)
	}
	if v.limb != nil {
		plain, err := bow.Discretize(d, bow.Options{Scheme: bow.Plain})
		if err != nil {
			t.Fatal(err)
		}
		c := v.limb(d, plain, m.Chain())
		m = bow.FromChain(&c, d)
	}
	state, err := m.Brace(brace)
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewSimulator(m, state, cfg)
	if err != nil {
		t.Fatal(err)
	}
	if v.cable != nil {
		s.dt /= 2 // other masses, other frequencies
		v.cable(&s.eng.(*resolved).cable, float64(d.String.Mass)/2)
	}
	r, err := s.Run()
	if err != nil {
		t.Fatalf("%s: %v", v.name, err)
	}
	return r.Speed
}

// pointMasses puts each link's mass into the nodes as the plain model does.
func pointMasses(c bow.Chain) bow.Chain {
	c.P, c.Q, c.R = make([]float64, c.N), make([]float64, c.N), c.NodeMass
	return c
}

// withoutKnots rebuilds a refined chain's joint springs from the weights alone.
func withoutKnots(d bow.Design, c *bow.Chain) []float64 {
	ends := [4]float64{251.0 / 720, 299.0 / 240, 211.0 / 240, 739.0 / 720}
	k := make([]float64, c.N)
	for i := range k {
		w := 1.0
		if i < 4 {
			w *= ends[i]
		}
		if j := c.N - i; j < 4 {
			w *= ends[j]
		}
		u, l := float64(i)/float64(c.N), float64(d.Limb.Length)
		xi := c.S[i] / l * (bow.Knots - 1)
		cell := min(bow.Knots-2, int(xi))
		mix := func(v [bow.Knots]unit.Length) float64 {
			return float64(v[cell]) + (xi-float64(cell))*float64(v[cell+1]-v[cell])
		}
		ei := d.Limb.StiffnessScale * float64(d.Limb.Modulus) * mix(d.Limb.Width) * math.Pow(mix(d.Limb.Thickness), 3) / 12
		k[i] = ei * float64(c.N) / (w * l * (1 + c.G*(1-2*u)))
	}
	return k
}

// respread gives each segment of mass m the matrix m [[own, other], [other, own]].
func respread(c *cable, half, own, other float64) {
	for k := range c.seg {
		m := half * (c.sigma[k+1] - c.sigma[k])
		c.diagX[k] += (own - 5.0/12) * m
		c.diagX[k+1] += (own - 5.0/12) * m
		c.off[k] = other * m
	}
}
