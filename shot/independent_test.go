package shot

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
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

// compare makes rows of speed, time and place of separation; tolerances of
// zero are left out.
func compare(name string, r Result, want, tol outcome, why string) (rows []row) {
	if tol.Speed > 0 {
		rows = append(rows, at(name+", speed", want.Speed, float64(r.Speed), tol.Speed, "m/s", why))
	}
	if tol.Time > 0 {
		rows = append(rows, at(name+", time on the string", 1e3*want.Time, r.TimeOnString.Milliseconds(), 1e3*tol.Time, "ms", why))
	}
	if tol.Nock > 0 {
		rows = append(rows, at(name+", nock − brace", 1e3**want.Past, r.PastBrace.Millimetres(), 1e3*tol.Nock, "mm", why))
	}
	return rows
}

func sorted(cases map[string]refCase) []string { return slices.Sorted(maps.Keys(cases)) }

// checkSpecChains shoots the very chains that a general multibody engine was
// given; its own step convergence is 1e-8 m/s.
func checkSpecChains(t *testing.T) (rows []row) {
	cases := loadCases(t)
	for _, id := range sorted(cases) {
		name, ok := strings.CutPrefix(id, "shot_")
		if !ok || !strings.Contains(id, "_specchain_") {
			continue
		}
		c := cases[id]
		want, tol := decode[struct {
			outcome
			Clip outcome `json:"with_Fclip_5N"`
		}](t, c.Expected), decode[outcome](t, c.Tolerance)
		d, _ := c.design(t)
		cfg := Config{ArrowMass: 0.022, Model: PlainLumped, Step: 20e-6}
		share := float64(d.String.Mass) / 3
		if strings.HasSuffix(id, "_K8") {
			cfg = wholeString
			share = float64(d.String.Mass) / 2 / 9 / 2
		}
		m := bow.FromChain(c.chain(d, share), d)
		brace, err := m.BraceWithString(unit.Length(c.Inputs.Arrays.L0))
		if err != nil {
			t.Fatal(err)
		}
		name = strings.Replace(name, "_specchain", "", 1)
		rows = append(rows, compare(name, run(t, m, brace, cfg), want.outcome, tol, "the file's")...)
		cfg.ClipForce = 5
		rows = append(rows, compare(name+" clip 5 N", run(t, m, brace, cfg), want.Clip, tol, "the file's")...)
	}
	return rows
}

// wholeString is the string of the K8 cases: eight nodes and nine equal
// segments over the whole half string.
var wholeString = Config{ArrowMass: 0.022, Model: PlainNodes, Nodes: 8, Fraction: 8.0 / 9, Step: 5e-6}

// checkGenericSpec shoots the contacting, damped, hand-held generic bow.
func checkGenericSpec(t *testing.T) (rows []row) {
	cases := loadCases(t)
	for _, k := range []struct {
		id  string
		cfg Config
	}{
		{"shot_recurve_200_generic_spec_N12_K0", Config{Model: PlainLumped, Step: 20e-6}},
		{"shot_recurve_200_generic_spec_N12_K4", Config{Model: PlainNodes, Nodes: 4, Fraction: 0.72, Step: 10e-6}},
	} {
		c := cases[k.id]
		want, tol := decode[outcome](t, c.Expected), decode[outcome](t, c.Tolerance)
		d, clip := c.design(t)
		k.cfg.ArrowMass, k.cfg.ClipForce = 0.022, clip
		r := shoot(t, d, unit.Length(c.Inputs.Brace), k.cfg)
		name := strings.TrimPrefix(k.id, "shot_")
		rows = append(rows, compare(name, r, want, tol, "the file's")...)
		rows = append(rows, at(name+", W", want.W, float64(r.Stored), 2e-5*want.W, "J", "the file's"))
	}
	return rows
}

// checkLimits compares finite chains with the limit of many links, straight
// limb, clamped and undamped.
func checkLimits(t *testing.T) (rows []row) {
	cases := loadCases(t)
	for _, brace := range []string{"200", "245"} {
		for _, k := range []struct {
			id  string
			cfg Config
		}{{"K0", Config{ArrowMass: 0.022, Model: PlainLumped, Step: 20e-6}}, {"K8", wholeString}} {
			c := cases["shot_straight_"+brace+"_limitN_"+k.id]
			want := decode[outcome](t, c.Expected)
			tol := decode[struct {
				N12 outcome `json:"accept_N12_g04"`
				N24 outcome `json:"accept_N24_g04"`
			}](t, c.Tolerance)
			d, _ := c.design(t)
			height := unit.Length(c.Inputs.Brace)
			name := "straight " + brace + " " + k.id
			for _, n := range []struct {
				links int
				tol   outcome
			}{{12, tol.N12}, {24, tol.N24}} {
				k.cfg.Links = n.links
				allowed, why := n.tol, "the file's"
				if own, ok := cases[fmt.Sprintf("shot_straight_%s_specchain_N%d_%s", brace, n.links, k.id)]; ok {
					allowed, why = widen(allowed, want, decode[outcome](t, own.Expected))
				}
				rows = append(rows, compare(fmt.Sprintf("%s, plain, %d links", name, n.links), shoot(t, d, height, k.cfg), want, allowed, why)...)
			}
			if k.id == "K0" {
				r := shoot(t, d, height, Config{ArrowMass: 0.022, Model: Lumped})
				rows = append(rows, compare(name+", Lumped", r, want, tol.N12, "the file's, for 12 links")...)
			}
		}
	}
	return rows
}

// widen lets a tolerance reach as far as the file's own value for the very same
// chain, which in two places lies outside the tolerance the file states.
func widen(tol, limit, own outcome) (outcome, string) {
	const spare = 1.001
	why := "the file's"
	if d := math.Abs(own.Speed - limit.Speed); d > tol.Speed {
		tol.Speed, why = spare*d, "the file's speed tolerance of 0.02 contradicts its own value for this chain; that value's distance from the limit"
	}
	if d := math.Abs(own.Time - limit.Time); d > tol.Time {
		tol.Time, why = spare*d, "the file's time tolerance of 0.08 ms contradicts its own value for this chain; that value's distance from the limit"
	}
	return tol, why
}

// goal is the production model's aim: within 0.05 m/s of a continuous string
// (string.md). The separation is good to ±5 mm (independent.md); the nock
// moves at about 60 m/s there.
var goal = outcome{Speed: 0.05, Nock: 0.005, Time: 0.005 / 60}

const goalWhy = "string.md: 0.05 m/s; independent.md: ±5 mm is honest for the place, and the time follows at 60 m/s"

func checkContinuousStraight(t *testing.T) (rows []row) {
	cases := loadCases(t)
	for _, brace := range []string{"200", "245"} {
		c := cases["shot_straight_"+brace+"_continuous_string"]
		want := decode[outcome](t, c.Expected)
		tol := decode[struct {
			K4 outcome `json:"accept_K4_72"`
		}](t, c.Tolerance)
		d, _ := c.design(t)
		height := unit.Length(c.Inputs.Brace)
		plain := shoot(t, d, height, Config{ArrowMass: 0.022, Model: PlainNodes, Nodes: 4, Fraction: 0.72})
		rows = append(rows, compare("straight "+brace+", plain, K = 4 on 72 %", plain, want, tol.K4, "the file's")...)
		r := shoot(t, d, height, Config{ArrowMass: 0.022})
		rows = append(rows, compare("straight "+brace+", Resolved", r, want, goal, goalWhy)...)
	}
	return rows
}

func checkContinuousRecurve(t *testing.T) (rows []row) {
	cases := loadCases(t)
	c := cases["shot_recurve_200_clamped_undamped_continuous"]
	want := decode[outcome](t, c.Expected)
	tol := decode[struct{ Accept map[string]outcome }](t, c.Tolerance)
	d, _ := c.design(t)
	for _, k := range []struct {
		accept string
		cfg    Config
	}{
		{"N12_K4_72", Config{Model: PlainNodes, Nodes: 4, Fraction: 0.72}},
		{"N48_K8_85", Config{Model: PlainNodes, Links: 48, Nodes: 8, Fraction: 0.85}},
		{"N48_K24_88", Config{Model: PlainNodes, Links: 48, Nodes: 24, Fraction: 0.88}},
		{"lumped", Config{Model: PlainLumped}},
		{"lumped", Config{Model: Lumped}},
	} {
		k.cfg.ArrowMass = 0.022
		name := fmt.Sprintf("clamped, undamped, %v", k.cfg.Model)
		if k.accept != "lumped" {
			name += " " + k.accept
		}
		rows = append(rows, compare(name, shoot(t, d, 0.2, k.cfg), want, tol.Accept[k.accept], "the file's")...)
	}
	rows = append(rows, compare("clamped, undamped, Resolved", shoot(t, d, 0.2, Config{ArrowMass: 0.022}), want, goal, goalWhy)...)
	c = cases["shot_recurve_200_generic_continuous"]
	free := decode[struct {
		Clip struct {
			V float64
		} `json:"Fclip_5N"`
		None struct {
			V float64
		} `json:"Fclip_0"`
	}](t, c.Expected)
	d, clip := c.design(t)
	why := "the file's 0.04 m/s; it compares speed only, the separation being fragile"
	return append(rows,
		at("generic bow, clip 5 N, Resolved, speed", free.Clip.V, float64(shoot(t, d, 0.2, Config{ArrowMass: 0.022, ClipForce: clip}).Speed), 0.04, "m/s", why),
		at("generic bow, no clip, Resolved, speed", free.None.V, float64(shoot(t, d, 0.2, Config{ArrowMass: 0.022}).Speed), 0.04, "m/s", why))
}
