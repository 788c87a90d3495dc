package arrow

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"testing"

	"tautline/unit"
)

const references = "../../shared/reference/"

// readReference reads a reference file or skips the test.
func readReference(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(references + name)
	if err != nil {
		t.Skipf("reference data not beside the checkout: %v", err)
	}
	return data
}

// independent is the part of data/independent.json that concerns arrows.
type independent struct {
	Drives map[string]struct {
		Rows [][]float64
	}
	Cases []struct {
		ID        string
		Expected  map[string]float64
		Tolerance map[string]float64
	}
}

func readIndependent(t testing.TB) independent {
	t.Helper()
	var f independent
	if err := json.Unmarshal(readReference(t, "data/independent.json"), &f); err != nil {
		// Cases of other packages hold other shapes; keep what was read.
		if _, wrong := err.(*json.UnmarshalTypeError); !wrong {
			t.Fatal(err)
		}
	}
	return f
}

// expected returns a case's numbers and tolerances.
func (f independent) expected(t testing.TB, id string) (want, tol map[string]float64) {
	t.Helper()
	for _, c := range f.Cases {
		if c.ID == id {
			return c.Expected, c.Tolerance
		}
	}
	t.Fatalf("case %s is missing in data/independent.json", id)
	return nil, nil
}

// gridTable is the drive grid_bh225: a lumped string at 225 mm brace height,
// 20 µs apart. The file counts the nock's place from brace height, and its
// acceleration is the arrow's force over 20.6 g.
func gridTable(t testing.TB) DriveTable {
	t.Helper()
	d := DriveTable{Half: []unit.Length{0.8}, Draw: 196, DrawSlope: 375.22}
	for _, r := range readIndependent(t).Drives["grid_bh225"].Rows {
		d.Time = append(d.Time, unit.Duration(r[0]))
		d.Nock = append(d.Nock, unit.Length(r[1]+0.225))
		d.Speed = append(d.Speed, unit.Speed(r[2]))
		d.Acceleration = append(d.Acceleration, r[3]/0.0206)
		d.Tension = append(d.Tension, unit.Force(r[4]))
	}
	return d
}

func gridDrive(t testing.TB) *Drive {
	t.Helper()
	d, err := NewDrive(gridTable(t))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// gridSetup is the set-up of the case: its button lies 692 mm ahead of the
// nock at full draw, 0.15 mm behind the drive's pivot.
func gridSetup() Setup {
	set := GenericSetup()
	set.Button.Place = 0.00015
	return set
}

func mustArrow(t testing.TB, d Design, r Resolution) *Arrow {
	t.Helper()
	a, err := New(d, r)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func mustShoot(t testing.TB, cfg Config, a *Arrow, d *Drive, set Setup) Result {
	t.Helper()
	s, err := NewSimulator(cfg)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Shoot(a, d, set)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// readTable reads a reference csv: a comment, column names, numbers.
func readTable(t testing.TB, name string) []map[string]float64 {
	t.Helper()
	r := csv.NewReader(strings.NewReader(string(readReference(t, name))))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]float64
	for _, line := range all[1:] {
		row := map[string]float64{}
		for i, cell := range line {
			if row[all[0][i]], err = strconv.ParseFloat(cell, 64); err != nil {
				t.Fatal(err)
			}
		}
		rows = append(rows, row)
	}
	return rows
}
