package report

import (
	"fmt"
	"math"

	"tautline/internal/figure"
	"tautline/unit"
	"tautline/workbench"
)

// enough is the evidence that decides a comparison looked at as it goes.
const enough = 20

// CompareFigures draws a comparison: the ratio with its interval against the
// line of no difference, and, looking as you go, the way it went.
func CompareFigures(c workbench.CompareView, system unit.System) []figure.Figure {
	if len(c.History) > 0 {
		return []figure.Figure{ratioHistory(c, system), evidenceHistory(c, system)}
	}
	return []figure.Figure{ratioNow(c, system)}
}

// same is the line of no difference.
func same(x ...float64) figure.Line {
	line := figure.Line{Name: "no difference", Kind: figure.Curve, Dashed: true}
	for _, v := range x {
		line.X, line.Y = append(line.X, figure.Number(v)), append(line.Y, 1)
	}
	return line
}

// ratioNow draws a comparison whose number of arrows was fixed.
func ratioNow(c workbench.CompareView, system unit.System) figure.Figure {
	robust := figure.Line{Name: "A over B, by the verdict's own test", Kind: figure.Points, X: []figure.Number{1}, Y: []figure.Number{figure.Maybe(c.Ratio.Value)},
		Low: []figure.Number{figure.Maybe(c.Ratio.Low)}, High: []figure.Number{figure.Maybe(c.Ratio.High)}}
	plain := figure.Line{Name: "A over B, by the variances, which a few wide arrows mislead", Kind: figure.Points, X: []figure.Number{2}, Y: []figure.Number{figure.Maybe(c.Plain.Value)},
		Low: []figure.Number{figure.Maybe(c.Plain.Low)}, High: []figure.Number{figure.Maybe(c.Plain.High)}}
	return figure.Figure{
		Title: "spread of A over spread of B", Finding: Marked(c.Text, system),
		X:      figure.Axis{Label: "1 the verdict's own test, 2 the variances"},
		Y:      figure.Axis{Label: "spread of A over spread of B", Digits: 2},
		Series: []figure.Line{same(0.5, 2.5), robust, plain}, Headroom: 0.45,
		Note: "Bars are 95 % intervals. A bar that crosses the line of no difference means: cannot tell yet.",
	}
}

// ratioHistory draws the ratio after each pair.
func ratioHistory(c workbench.CompareView, system unit.System) figure.Figure {
	line := figure.Line{Name: "A over B", Kind: figure.Curve}
	for _, s := range c.History {
		line.X, line.Y = append(line.X, figure.Number(s.Pairs)), append(line.Y, figure.Maybe(s.Ratio.Value))
		line.Low, line.High = append(line.Low, figure.Maybe(s.Ratio.Low)), append(line.High, figure.Maybe(s.Ratio.High))
	}
	return figure.Figure{
		Title: "spread of A over spread of B, pair by pair", Finding: Marked(c.Text, system),
		X:      figure.Axis{Label: "pairs of ends shot"},
		Y:      figure.Axis{Label: "spread of A over spread of B", Digits: 2},
		Series: []figure.Line{same(0, float64(len(c.History))), line},
		Note:   "The band holds the ratios that are still possible, whenever one looks. While it holds the line of no difference: cannot tell yet.",
	}
}

// evidenceHistory draws the evidence after each pair against what decides.
func evidenceHistory(c workbench.CompareView, system unit.System) figure.Figure {
	line, bar := figure.Line{Name: "evidence", Kind: figure.Points}, figure.Line{Name: "decides", Kind: figure.Curve, Dashed: true}
	for _, s := range c.History {
		line.X, line.Y = append(line.X, figure.Number(s.Pairs)), append(line.Y, figure.Number(s.Evidence))
	}
	bar.X, bar.Y = []figure.Number{0, figure.Number(len(c.History))}, []figure.Number{enough, enough}
	return figure.Figure{
		Title: "evidence against equal spreads", Finding: fmt.Sprintf("After %s the evidence is %s; %s decides.", pairsText(len(c.History)),
			system.Plain(math.Round(10*c.History[len(c.History)-1].Evidence)/10), system.Plain(enough)),
		X:      figure.Axis{Label: "pairs of ends shot"},
		Y:      figure.Axis{Label: "evidence", Digits: 1},
		Series: []figure.Line{bar, line},
		Note:   "1 is none. Looking after every pair and stopping when you like does not spoil it.",
	}
}

func pairsText(n int) string {
	if n == 1 {
		return "1 pair"
	}
	return fmt.Sprintf("%d pairs", n)
}
