package bow

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"tautline/unit"
)

type elasticaCase struct {
	HalfRest float64   `json:"L0_half"`
	TBrace   float64   `json:"T_brace"`
	TipBrace []float64 `json:"tip_brace"`
	Draws    []struct {
		X, F, T float64
		Tip     []float64
		Contact bool
		W       float64 `json:"W_from_brace"`
	}
}

type acceptance struct {
	N12 struct {
		Full    float64 `json:"F_rel_full_draw"`
		Mid     float64 `json:"F_rel_X0p4_to_0p6"`
		Contact float64 `json:"F_rel_recurve_X0p30_contact"`
		T       float64 `json:"T_rel"`
		Tip     float64 `json:"tip_m"`
		L0      float64 `json:"L0_half_m"`
		W       float64 `json:"W_rel"`
	} `json:"accept_N12_g04"`
	N48 struct {
		F   float64 `json:"F_rel"`
		T   float64 `json:"T_rel"`
		Tip float64 `json:"tip_m"`
		L0  float64 `json:"L0_half_m"`
	} `json:"accept_N48"`
}

// checkContinuous compares with the continuous elastica: chains of 12 links
// braced to the same brace height, as an archer would, finer ones with the
// same string.
func checkContinuous(t *testing.T) (rows []row) {
	for _, c := range engines(t).Cases {
		if !strings.HasPrefix(c.ID, "statics_") || strings.Contains(c.ID, "spec") {
			continue
		}
		v := continuousCase{engineCase: c}
		unmarshal(t, c.Expected, &v.e)
		unmarshal(t, c.Tolerance, &v.a)
		rows = append(rows, v.rows(t, Options{Scheme: Plain}, false)...)
		rows = append(rows, v.rows(t, Options{}, false)...)
		rows = append(rows, v.rows(t, Options{N: 24}, true)...)
		rows = append(rows, v.rows(t, Options{N: 96}, true)...)
	}
	return rows
}

type continuousCase struct {
	engineCase
	e elasticaCase
	a acceptance
}

// tolerances are those given with the case for 12 links, for chains of 12 and
// 24, and those for 48 links for 96.
func (v continuousCase) tolerances(n int, x float64, contact bool) (f, tension, tip float64) {
	a := v.a.N12
	switch {
	case n > 24:
		return v.a.N48.F, v.a.N48.T, v.a.N48.Tip
	case x > 0.69:
		f = a.Full
	case contact:
		f = a.Contact
	default:
		f = a.Mid
	}
	return f, a.T, a.Tip
}

func (v continuousCase) rows(t *testing.T, o Options, equalString bool) (rows []row) {
	m := mustModel(t, v.design(), o)
	o = o.withDefaults()
	b := mustBrace(t, m, unit.Length(v.Inputs.Brace))
	name := fmt.Sprintf("%s, N = %d %v", strings.TrimPrefix(v.ID, "statics_"), o.N, o.Scheme)
	rows = append(rows, row{what: name + ": half string", expected: v.e.HalfRest, ours: float64(b.HalfRest), tol: v.a.N12.L0, unit: "m", why: given})
	if o.N > 24 {
		rows[0].tol = v.a.N48.L0
	}
	if equalString {
		name += ", equal string"
		var err error
		if b, err = m.BraceWithString(unit.Length(v.e.HalfRest)); err != nil {
			t.Fatal(err)
		}
	}
	_, tolT, _ := v.tolerances(o.N, v.Inputs.Brace, false)
	rows = append(rows, tensionRow(m, name+": T at brace", v.e.TBrace, b.Tension, tolT))
	for _, d := range v.e.Draws {
		s := mustAt(t, m, b, unit.Length(d.X))
		at := fmt.Sprintf("%s: X = %.3g m", name, d.X)
		tolF, tolT, tip := v.tolerances(o.N, d.X, d.Contact)
		rows = append(rows,
			rel(at+", F", d.F, float64(s.Force), tolF, "N", given),
			tensionRow(m, at+", T", d.T, s.Tension, tolT),
			row{what: at + ", tip x", expected: d.Tip[0], ours: float64(s.TipX), tol: tip, unit: "m", why: given},
			row{what: at + ", tip y", expected: d.Tip[1], ours: float64(s.TipY), tol: tip, unit: "m", why: given})
		if d.X > 0.69 {
			rows = append(rows, rel(at+", W", d.W, float64(s.Energy-b.Energy), v.a.N12.W, "J", given))
		}
	}
	return rows
}

// given is the reason shared by rows whose tolerance stands in the case.
const given = "given with the case"

// tensionRow widens the tolerance of the 12-link refined chain to its known
// error: exact for small deflections, it is too soft under the string's pull
// along the limb by T h²/(12 EI), Hencky's error of a jointed column (eq. 23);
// the plain chain's weights partly cancel it.
func tensionRow(m *Model, what string, want float64, got unit.Force, tol float64) row {
	r := rel(what, want, float64(got), tol, "N", given)
	c := m.Chain()
	if c.Scheme != Refined || c.N > 12 {
		return r
	}
	if h := henckyError(c, want); h > tol {
		r.tol, r.why = h*want, "T h²/(12 EI), mean over the joints: error of a jointed column (Hencky)"
	}
	return r
}

// henckyError is the mean over the joints of T h²/(12 EI).
func henckyError(c *Chain, tension float64) (sum float64) {
	for i, k := range c.K {
		// 1/k = c h/EI
		sum += tension * c.Len[i] / (12 * k * c.weight(i)) / float64(c.N)
	}
	return sum
}

type specCase struct {
	HalfRest float64 `json:"L0_half"`
	Rows     []struct {
		X, F, T float64
		Tip     []float64
	}
}

// checkSpecChain: another program's solution of the same discrete equations,
// the plain chain, must agree to that program's digits.
func checkSpecChain(t *testing.T) (rows []row) {
	for _, c := range engines(t).Cases {
		if !strings.HasPrefix(c.ID, "statics_") || !strings.Contains(c.ID, "spec") {
			continue
		}
		var e specCase
		var tol struct {
			F   float64 `json:"F_rel"`
			T   float64 `json:"T_rel"`
			Tip float64 `json:"tip_m"`
			L0  float64 `json:"L0_half_m"`
		}
		unmarshal(t, c.Expected, &e)
		unmarshal(t, c.Tolerance, &tol)
		m := mustModel(t, c.design(), Options{Scheme: Plain})
		b := mustBrace(t, m, unit.Length(c.Inputs.Brace))
		name := strings.TrimPrefix(c.ID, "statics_")
		why := "given with the case"
		rows = append(rows, row{what: name + ": half string", expected: e.HalfRest, ours: float64(b.HalfRest), tol: tol.L0, unit: "m", why: why})
		for _, d := range e.Rows {
			s := mustAt(t, m, b, unit.Length(d.X))
			at := fmt.Sprintf("%s: X = %.3g m", name, d.X)
			rows = append(rows,
				rel(at+", F", d.F, float64(s.Force), tol.F, "N", why),
				rel(at+", T", d.T, float64(s.Tension), tol.T, "N", why),
				row{what: at + ", tip x", expected: d.Tip[0], ours: float64(s.TipX), tol: tol.Tip, unit: "m", why: why},
				row{what: at + ", tip y", expected: d.Tip[1], ours: float64(s.TipY), tol: tol.Tip, unit: "m", why: why})
		}
	}
	return rows
}

// The arrays that the dynamic engines were given are the plain chain.
func TestDiscreteArrays(t *testing.T) {
	seen := 0
	for _, c := range engines(t).Cases {
		a := c.Inputs.Arrays
		if a == nil {
			continue
		}
		seen++
		n := len(a.K)
		m := mustModel(t, c.design(), Options{N: n, Scheme: Plain})
		ch := m.Chain()
		// independent.json (computed): printed to 16 digits, quadratures of
		// both sides to about 1e-9
		same(t, c.ID+" s", a.S, ch.S, 1e-12)
		same(t, c.ID+" link_len", a.Len, ch.Len, 1e-9)
		same(t, c.ID+" theta_nat", a.Natural, ch.Natural, 1e-9)
		same(t, c.ID+" k_joint", a.K, ch.K, 1e-10)
		// node masses without the tip mass and the string's share at the tip
		last := a.NodeMass[n-1] - ch.TipMass - stringShare(c)
		same(t, c.ID+" m_node", append(append([]float64{}, a.NodeMass[:n-1]...), last), ch.NodeMass, 1e-6)
		full := mustCurve(t, m, mustBrace(t, m, unit.Length(c.Inputs.Brace)))
		// tolerance F_rel 1e-5, L0 2e-6 m given with the cases
		same(t, c.ID+" F, T, W, T_brace", []float64{a.F, a.T, a.W, a.TBrace},
			[]float64{float64(full.Full.Force), float64(full.Full.Tension), float64(full.Stored), float64(full.Brace.Tension)}, 1e-5)
		if math.Abs(float64(full.Brace.HalfRest)-a.HalfRest) > 2e-6 {
			t.Errorf("%s: half string %.9f, expected %.9f", c.ID, float64(full.Brace.HalfRest), a.HalfRest)
		}
		same(t, c.ID+" theta_full", a.ThetaFull, full.Full.Theta, 1e-6)
	}
	if seen == 0 {
		t.Fatal("no case with discrete arrays in the reference data")
	}
}

// stringShare is what the case adds to the last node: a third of the string,
// or half of one of nine segments of the half string.
func stringShare(c engineCase) float64 {
	ms := float64(Generic().String.Mass)
	if strings.HasSuffix(c.ID, "_K0") {
		return ms / 3
	}
	return ms / 2 / 9 / 2
}

// The generic bow is the one of the reference data, digit for digit.
func TestGenericIsTheReferenceBow(t *testing.T) {
	b := engines(t).Bow
	d := Generic()
	num := func(key string) float64 { v, _ := b[key].(float64); return v }
	for key, got := range map[string]float64{
		"X0": float64(d.Riser.PocketX), "Y0": float64(d.Riser.PocketY), "Phi0": float64(d.Riser.PocketAngle),
		"L": float64(d.Limb.Length), "EI0": d.Limb.StiffnessScale, "E": float64(d.Limb.Modulus), "Rho": d.Limb.Density,
		"Pre": float64(d.Limb.Preset), "XiR": d.Limb.InnerFraction, "Rec": float64(d.Limb.Recurve), "RecP": d.Limb.RecurvePower,
		"Mtip": float64(d.Limb.TipMass), "EA": float64(d.String.EA), "Ms": float64(d.String.Mass), "Mnp": float64(d.String.NockMass),
		"Mr": float64(d.Riser.Mass), "Kh": float64(d.Riser.HandStiffness), "Ch": d.Riser.HandDamping,
		"TauL": float64(d.Limb.JointDamping), "TauS": float64(d.String.Damping), "Alpha": d.Limb.MassDamping, "X_full": float64(d.FullDraw),
	} {
		if got != num(key) {
			t.Errorf("%s = %v, reference has %v", key, got, b[key])
		}
	}
	for k := range Knots {
		w, h := b["W"].([]any)[k].(float64), b["H"].([]any)[k].(float64)
		if float64(d.Limb.Width[k]) != w || float64(d.Limb.Thickness[k]) != h {
			t.Errorf("knot %d: %v × %v, reference has %v × %v", k, d.Limb.Width[k], d.Limb.Thickness[k], w, h)
		}
	}
}

func same(t *testing.T, what string, want, got []float64, tol float64) {
	t.Helper()
	if len(want) != len(got) {
		t.Errorf("%s: %d numbers, expected %d", what, len(got), len(want))
		return
	}
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= tol*math.Abs(want[i])) {
			t.Errorf("%s[%d] = %.12g, expected %.12g", what, i, got[i], want[i])
		}
	}
}

func unmarshal(t *testing.T, raw json.RawMessage, into any) {
	t.Helper()
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(err)
	}
}
