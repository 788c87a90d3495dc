package shot

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"tautline/bow"
	"tautline/unit"
)

// independent is the file of shots computed by engines that share no code with
// ours (computed; see independent.md of the reference values).
const independent = "../../shared/reference/data/independent.json"

// refCase is one shot of that file.
type refCase struct {
	ID     string
	Inputs struct {
		Overrides map[string]any
		Brace     float64
		Arrays    struct {
			L0    float64   `json:"L0_half"`
			S     []float64 `json:"s"`
			Len   []float64 `json:"link_len"`
			Theta []float64 `json:"theta_nat"`
			K     []float64 `json:"k_joint"`
			M     []float64 `json:"m_node"`
		} `json:"discrete_arrays"`
	}
	Expected  json.RawMessage
	Tolerance json.RawMessage
}

// outcome is what such a case expects, or allows.
type outcome struct {
	Speed float64  `json:"v"`
	Time  float64  `json:"t_sep"`
	Past  *float64 `json:"nock_x_rel_brace"`
	W     float64  `json:"W"`
	F     float64  `json:"F_full"`
	T     float64  `json:"T_full"`
	// in tolerances
	Nock float64 `json:"nock_x"`
}

// loadCases reads the shots, or skips the test where the file is not at hand.
func loadCases(t testing.TB) map[string]refCase {
	t.Helper()
	raw, err := os.ReadFile(independent)
	if err != nil {
		t.Skipf("reference values are not beside the checkout: %v", err)
	}
	var file struct{ Cases []json.RawMessage }
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	cases := map[string]refCase{}
	for _, one := range file.Cases {
		var head struct{ ID string }
		if err := json.Unmarshal(one, &head); err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(head.ID, "shot_") {
			continue
		}
		var c refCase
		if err := json.Unmarshal(one, &c); err != nil {
			t.Fatal(err)
		}
		cases[c.ID] = c
	}
	if len(cases) < 15 {
		t.Fatalf("only %d shots in %s", len(cases), independent)
	}
	return cases
}

// design is the generic bow with the case's overrides, and the clip force.
func (c refCase) design(t testing.TB) (bow.Design, unit.Force) {
	t.Helper()
	d, clip := bow.Generic(), unit.Force(5)
	for name, v := range c.Inputs.Overrides {
		x, _ := v.(float64)
		switch name {
		case "Rec":
			d.Limb.Recurve = unit.Angle(x)
		case "Clamped":
			d.Riser.Clamped = v.(bool)
		case "TauL":
			d.Limb.JointDamping = unit.Duration(x)
		case "TauS":
			d.String.Damping = unit.Duration(x)
		case "Alpha":
			d.Limb.MassDamping = x
		case "Fclip":
			clip = unit.Force(x)
		default:
			t.Fatalf("%s: override %s is not known here", c.ID, name)
		}
	}
	return d, clip
}

// chain rebuilds the chain the other engine was given.
func (c refCase) chain(d bow.Design, tipShare float64) *bow.Chain {
	a := c.Inputs.Arrays
	chain := &bow.Chain{
		N: len(a.Len), G: 0.4, Scheme: bow.Plain, S: a.S, Len: a.Len, Natural: a.Theta, K: a.K,
		NodeMass: append([]float64(nil), a.M...),
		X0:       float64(d.Riser.PocketX), Y0: float64(d.Riser.PocketY), Phi0: float64(d.Riser.PocketAngle),
	}
	before := chain.Phi0
	for i, th := range a.Theta {
		chain.Beta = append(chain.Beta, th-before)
		chain.Contacts = append(chain.Contacts, bow.Contact{Link: i, F: 1})
		before = th
	}
	// the file's last node mass holds the string's share at the tip already
	chain.NodeMass[chain.N-1] -= tipShare
	return chain
}

func decode[T any](t testing.TB, raw json.RawMessage) T {
	t.Helper()
	var v T
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// near fails unless got is within tol of want.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.9g, want %.9g ± %.2g (off by %.2g)", what, got, want, tol, got-want)
	}
}

// TestSpecChains compares the plain model with a general multibody engine on
// the very same chains (computed: MuJoCo 3.3.8, RK4 at 2.5 µs, its own step
// convergence 1e-8 m/s; the tolerance is the file's).
func TestSpecChains(t *testing.T) {
	for id, c := range loadCases(t) {
		if !strings.Contains(id, "_specchain_") {
			continue
		}
		t.Run(id, func(t *testing.T) {
			want, tol := decode[struct {
				outcome
				Clip outcome `json:"with_Fclip_5N"`
			}](t, c.Expected), decode[outcome](t, c.Tolerance)
			d, _ := c.design(t)
			cfg := Config{ArrowMass: 0.022, Model: PlainLumped, Step: 20e-6}
			share := float64(d.String.Mass) / 3
			if strings.HasSuffix(id, "_K8") {
				// eight nodes and nine equal segments over the whole half string
				cfg = Config{ArrowMass: 0.022, Model: PlainNodes, Nodes: 8, Fraction: 8.0 / 9, Step: 5e-6}
				share = float64(d.String.Mass) / 2 / 9 / 2
			}
			m := bow.FromChain(c.chain(d, share), d)
			brace, err := m.BraceWithString(unit.Length(c.Inputs.Arrays.L0))
			if err != nil {
				t.Fatal(err)
			}
			for _, v := range []struct {
				clip unit.Force
				want outcome
			}{{0, want.outcome}, {5, want.Clip}} {
				cfg.ClipForce = v.clip
				r := run(t, m, brace, cfg)
				name := fmt.Sprintf("clip %v: ", v.clip)
				near(t, name+"speed", float64(r.Speed), v.want.Speed, tol.Speed)
				near(t, name+"time", float64(r.TimeOnString), v.want.Time, tol.Time)
				near(t, name+"nock", float64(r.PastBrace), *v.want.Past, tol.Nock)
			}
		})
	}
}

// run looses one arrow or fails the test.
func run(t testing.TB, m *bow.Model, brace bow.State, cfg Config) Result {
	t.Helper()
	s, err := NewSimulator(m, brace, cfg)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Run()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// shoot is Shoot or fails the test.
func shoot(t testing.TB, d bow.Design, brace unit.Length, cfg Config) Result {
	t.Helper()
	r, err := Shoot(d, brace, cfg)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestGenericSpec compares the plain model on the contacting, damped, hand-held
// generic bow with a dense solver (computed: numpy mass matrix with DOP853,
// confirmed by LSODA to 1e-8 m/s; the tolerance is the file's).
func TestGenericSpec(t *testing.T) {
	cases := loadCases(t)
	for id, cfg := range map[string]Config{
		"shot_recurve_200_generic_spec_N12_K0": {Model: PlainLumped, Step: 20e-6},
		"shot_recurve_200_generic_spec_N12_K4": {Model: PlainNodes, Nodes: 4, Fraction: 0.72, Step: 10e-6},
	} {
		t.Run(id, func(t *testing.T) {
			c, ok := cases[id]
			if !ok {
				t.Fatal("case is missing from the file")
			}
			want, tol := decode[outcome](t, c.Expected), decode[outcome](t, c.Tolerance)
			d, clip := c.design(t)
			cfg.ArrowMass, cfg.ClipForce = 0.022, clip
			r := shoot(t, d, unit.Length(c.Inputs.Brace), cfg)
			near(t, "speed", float64(r.Speed), want.Speed, tol.Speed)
			near(t, "time", float64(r.TimeOnString), want.Time, tol.Time)
			near(t, "nock", float64(r.PastBrace), *want.Past, tol.Nock)
			// the file allows 2e-5 of W
			near(t, "W", float64(r.Stored), want.W, 2e-5*want.W)
			near(t, "efficiency", r.Efficiency, want.Speed*want.Speed*0.011/want.W, 5e-5)
		})
	}
}
