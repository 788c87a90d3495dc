package e2e

import (
	"database/sql"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
)

// tally counts the records of the notebook by their table.
type tally map[string]int

// handMade are the tables of what people note; the others follow from them.
var handMade = []string{"bows", "setups", "readings", "sessions", "ends", "trials", "verdicts", "recordings", "retractions", "rulings"}

// count demands that the database holds what was done so far and what this step
// added: nothing is lost, nothing doubled.
func (w *walker) count(adds tally) {
	w.b.t.Helper()
	w.b.sent()
	for table, n := range adds {
		w.did[table] += n
	}
	db, err := sql.Open("sqlite", "file:"+filepath.Join(w.n.dir, "notebook.db")+"?mode=ro")
	if err != nil {
		w.b.t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // only read
	got := tally{}
	for _, table := range handMade {
		for _, n := range column(w.b.t, db, "SELECT id FROM "+table) {
			got[table] += min(1, len(n))
		}
	}
	if !maps.Equal(got, w.did) {
		w.b.t.Errorf("the database holds %v, noted were %v", got, w.did)
	}
	if twice := column(w.b.t, db, `SELECT trial || ' ' || coalesce(json_extract(body, '$.stop'), '') FROM trial_events WHERE json_extract(body, '$.what') = 'reached' GROUP BY 1 HAVING count(*) > 1`); len(twice) > 0 {
		w.b.t.Errorf("stops that were reached twice: %v", twice)
	}
}

// asSet is how a bow stands set in the notebook, by the entry's pointer: a
// measure in SI units, a count as it is.
func (w *walker) asSet(bow, pointer string) float64 {
	w.b.t.Helper()
	var v struct {
		SetUp struct {
			SetUp struct{ Settings map[string]any } `json:"setup"`
			Shown map[string]struct {
				SI float64 `json:"si"`
			}
		} `json:"setup"`
	}
	w.n.get("/bows/"+bow, &v)
	if measure, there := v.SetUp.Shown[pointer]; there {
		return measure.SI
	}
	var at any = v.SetUp.SetUp.Settings
	for _, name := range strings.Split(pointer, "/")[1:] {
		branch, _ := at.(map[string]any)
		at = branch[name]
	}
	count, there := at.(float64)
	if !there {
		w.b.t.Errorf("the bow has no %s", pointer)
	}
	return count
}

// stands demands that the bow stands set so.
func (w *walker) stands(want map[string]float64) {
	w.b.t.Helper()
	w.b.sent()
	for pointer, v := range want {
		if got := w.asSet(w.bow, pointer); math.Abs(got-v) > 1e-3*math.Abs(v) {
			w.b.t.Errorf("%s is kept as %v, wanted %v", pointer, got, v)
		}
	}
}

// read demands that these readings of a kind are in the notebook outside of
// trials, in SI units, each once.
func (w *walker) read(kind string, want ...float64) {
	w.b.t.Helper()
	w.b.sent()
	var list rows[struct {
		Reading struct {
			Kind  string  `json:"kind"`
			Trial string  `json:"trial"`
			Value float64 `json:"value"`
		} `json:"reading"`
	}]
	w.n.get("/readings?limit=500&bow="+w.bow, &list)
	var got []float64
	for _, r := range list.Rows {
		if r.Reading.Kind == kind && r.Reading.Trial == "" {
			got = append(got, r.Reading.Value)
		}
	}
	if !slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
		w.b.t.Errorf("the readings of %s are kept as %v, wanted %v", strings.ReplaceAll(kind, "_", " "), got, want)
	}
}
