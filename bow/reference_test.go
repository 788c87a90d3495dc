package bow

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"tautline/unit"
)

const referenceDir = "../../shared/reference/data"

// reference opens a file of the reference data, or skips.
func reference(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(referenceDir, name))
	if err != nil {
		t.Skipf("reference data not beside the repository: %v", err)
	}
	return data
}

// table reads a reference csv: a comment line, a line of names, numbers.
func table(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	_, body, _ := strings.Cut(string(reference(t, name)), "\n")
	lines, err := csv.NewReader(strings.NewReader(body)).ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d lines, %v", name, len(lines), err)
	}
	var out []map[string]float64
	for _, line := range lines[1:] {
		rec := map[string]float64{}
		for i, cell := range line {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			rec[lines[0][i]] = v
		}
		out = append(out, rec)
	}
	return out
}

// engineCase is one case of independent.json, with the fields that concern the
// bow at rest.
type engineCase struct {
	ID     string
	Inputs struct {
		Overrides map[string]any
		Brace     float64
		N         any
		Arrays    *chainArrays `json:"discrete_arrays"`
	}
	Expected  json.RawMessage
	Tolerance json.RawMessage
}

type chainArrays struct {
	HalfRest  float64   `json:"L0_half"`
	S         []float64 `json:"s"`
	Len       []float64 `json:"link_len"`
	Natural   []float64 `json:"theta_nat"`
	K         []float64 `json:"k_joint"`
	NodeMass  []float64 `json:"m_node"`
	F         float64
	T         float64
	TBrace    float64 `json:"T_brace"`
	W         float64
	ThetaFull []float64 `json:"theta_full"`
}

type engineFile struct {
	Bow   map[string]any `json:"bow_generic"`
	Cases []engineCase
}

var engineOnce struct {
	sync.Once
	file engineFile
	err  error
}

// engines reads independent.json once.
func engines(t *testing.T) engineFile {
	t.Helper()
	data := reference(t, "independent.json")
	engineOnce.Do(func() { engineOnce.err = json.Unmarshal(data, &engineOnce.file) })
	if engineOnce.err != nil {
		t.Fatal(engineOnce.err)
	}
	return engineOnce.file
}

// design applies a case's overrides to the generic bow.
func (c engineCase) design() Design {
	d := Generic()
	if rec, ok := c.Inputs.Overrides["Rec"].(float64); ok {
		d.Limb.Recurve = unit.Angle(rec)
	}
	return d
}

func mustModel(t *testing.T, d Design, o Options) *Model {
	t.Helper()
	m, err := New(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func mustCurve(t *testing.T, m *Model, brace State) Curve {
	t.Helper()
	c, err := m.Curve(t.Context(), brace, m.Design().FullDraw, 25)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustBrace(t *testing.T, m *Model, height unit.Length) State {
	t.Helper()
	s, err := m.Brace(height)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustAt(t *testing.T, m *Model, brace State, nock unit.Length) State {
	t.Helper()
	s, err := m.At(brace, nock)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
