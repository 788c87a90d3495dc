package main

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"testing"

	"tautline/internal/figure"
)

// What a page draws of its own gets the looks that the notebook would have
// given: the rule of internal/figure, in the pages' own code.
func TestLooksAreTheNotebooks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var pictures [][]figure.Line
	for range 200 {
		series := make([]figure.Line, 1+rng.IntN(8))
		for i := range series {
			series[i] = figure.Line{Kind: []figure.Kind{figure.Curve, figure.Points}[rng.IntN(2)], Dashed: rng.IntN(2) == 0}
			if rng.IntN(5) == 0 {
				series[i].Kind, series[i].Dash = figure.Curve, figure.Dashes[rng.IntN(len(figure.Dashes))]
			}
		}
		pictures = append(pictures, series)
	}
	asked, err := json.Marshal(pictures)
	if err != nil {
		t.Fatal(err)
	}
	var got [][][2]string
	inNode(t, "ui/lookscheck.ts", bytes.NewReader(asked), &got)
	for i, series := range pictures {
		for k, s := range figure.Dressed(series) {
			if want := [2]string{string(s.Dash), string(s.Shape)}; got[i][k] != want {
				t.Errorf("picture %d, series %d of %+v: the page draws %q, the notebook says %q", i, k, series, got[i][k], want)
			}
		}
	}
}
