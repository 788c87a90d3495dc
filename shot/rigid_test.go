package shot

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"tautline/bow"
	"tautline/unit"
)

// B5's bow: each limb one rigid link of length 0.6096 m hinged 0.3048 m from
// the centre line, tip force 254.8643 N per radian, limbs and arrow of equal
// mass. The string is massless unless stated and nearly inextensible; its
// damping takes the ringing of that stiff string away (energy below 1e-4 J).
const (
	rigidLength = 0.6096
	rigidMass   = 0.02591956
)

func rigidBow(stringMass float64) *bow.Model {
	chain := &bow.Chain{
		N: 1, Scheme: bow.Plain, Y0: 0.3048,
		S: []float64{0, rigidLength}, Len: []float64{rigidLength}, Natural: []float64{0}, Beta: []float64{0},
		K: []float64{254.8643 * rigidLength}, NodeMass: []float64{rigidMass / 2},
		P: []float64{0}, Q: []float64{0}, R: []float64{rigidMass / 2},
		Contacts: []bow.Contact{{Link: 0, F: 1}},
	}
	d := bow.Generic()
	d.Riser.Clamped = true
	d.Limb.JointDamping, d.Limb.MassDamping, d.String.Damping = 0, 0, 1e-6
	d.String.EA, d.String.Mass, d.String.NockMass = 1e9, unit.Mass(stringMass), 0
	d.FullDraw = 0.6985
	return bow.FromChain(chain, d)
}

// table reads a csv of the reference values: a comment line, names, numbers.
func table(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(filepath.Dir(independent), name))
	if err != nil {
		t.Skipf("reference values are not beside the checkout: %v", err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]float64
	for _, line := range lines[1:] {
		entry := map[string]float64{}
		for i, text := range line {
			if entry[lines[0][i]], err = strconv.ParseFloat(text, 64); err != nil {
				t.Fatal(err)
			}
		}
		out = append(out, entry)
	}
	return out
}

func checkRigid(t *testing.T) (rows []row) {
	const why = "model.md section 9: v 3e-4, t 1e-3; the string has EA = 1e9 N instead of none"
	for _, model := range []Model{PlainLumped, Lumped} {
		m := rigidBow(0)
		brace, err := m.Brace(0.1524)
		if err != nil {
			t.Fatal(err)
		}
		r := run(t, m, brace, Config{ArrowMass: rigidMass, Model: model, Links: 12, Step: 2e-6, History: true})
		v := at(fmt.Sprintf("%v, speed at brace", model), 56.557, float64(r.Speed), 3e-4*56.557, "m/s", why)
		rows = append(rows, v, at(fmt.Sprintf("%v, time to brace", model), 16.816, timeTo(r.History, 0.1524), 1e-3*16.816, "ms", why))
		rows = append(rows, traceRows(t, fmt.Sprint(model), r.History)...)
		m = rigidBow(0.0068)
		for _, ref := range table(t, "rigid_limb_brace_sweep.csv") {
			if brace, err = m.Brace(unit.Length(ref["brace_m"])); err != nil {
				t.Fatal(err)
			}
			r := run(t, m, brace, Config{ArrowMass: rigidMass, Model: model, Links: 12, Step: 2e-6})
			want := ref["v_string6p8g_m_s"]
			rows = append(rows, at(fmt.Sprintf("%v, brace %g in, string of 6.8 g, speed", model, ref["brace_in"]), want, float64(r.Speed), 3e-4*want, "m/s", why))
		}
	}
	return rows
}

// traceRows compares speed and tension along the way. Within 25 mm of brace
// the exact limb stops in a few microseconds and the string's tension rises to
// 1 kN; there the string's elasticity shows, and only the end is compared.
func traceRows(t *testing.T, name string, h *History) (rows []row) {
	for _, ref := range table(t, "rigid_limb_shot_trace.csv") {
		x := ref["draw_m"]
		if ref["V_arrow_m_s"] == 0 || x < 0.1524+0.025 {
			continue
		}
		i, part := crossing(h, x)
		mix := func(a, b float64) float64 { return a + part*(b-a) }
		v, want := -mix(float64(h.Speed[i]), float64(h.Speed[i+1])), ref["V_arrow_m_s"]
		rows = append(rows, at(fmt.Sprintf("%s, nock at %g in, speed", name, ref["draw_in"]), want, v, 3e-4*want+5e-4, "m/s", "model.md section 9: 3e-4; half a unit of the table's last digit"))
		tension, want := mix(float64(h.Tension[i]), float64(h.Tension[i+1])), ref["T_dyn_N"]
		rows = append(rows, at(fmt.Sprintf("%s, nock at %g in, tension", name, ref["draw_in"]), want, tension, 2e-3*want+0.05, "N", "elasticity: the stretch's second derivative shows as ΔT/T of order (v²/c²), 2e-3; half a digit"))
	}
	return rows
}

// crossing finds the history's interval in which the nock passes x.
func crossing(h *History, x float64) (i int, part float64) {
	for float64(h.Nock[i+1]) > x {
		i++
	}
	return i, (float64(h.Nock[i]) - x) / float64(h.Nock[i]-h.Nock[i+1])
}

func timeTo(h *History, x float64) float64 {
	if float64(h.Nock[h.Separation]) > x {
		return math.NaN()
	}
	i, part := crossing(h, x)
	return 1e3 * (float64(h.Time[i]) + part*float64(h.Time[i+1]-h.Time[i]))
}
