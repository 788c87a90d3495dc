package workbench

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"tautline/notebook"
	"tautline/num"
	"tautline/unit"
)

// levelScale is what the typed levels of a setting measure.
type levelScale struct {
	at    []float64 // each level as a number
	print func(float64) string
}

var levelPattern = regexp.MustCompile(`^([+-−]?[0-9]+(?:[.,][0-9]+)?)\s*(.*)$`)

// readLevels reads levels as typed: lengths ("8 mm", "5/16 in"), or plain
// numbers that share their words ("2 turns", "3 turns").
func readLevels(levels []string) (levelScale, error) {
	if s, ok := lengthLevels(levels); ok {
		return s, s.apart(levels)
	}
	var s levelScale
	words := ""
	for i, text := range levels {
		m := levelPattern.FindStringSubmatch(strings.TrimSpace(text))
		if m == nil {
			return s, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/levels/%d", i), Message: fmt.Sprintf("%q has no number", text), Hint: "write levels like 8 mm, or 2 turns"}
		}
		v, err := strconv.ParseFloat(strings.NewReplacer(",", ".", "−", "-").Replace(m[1]), 64)
		if err != nil {
			return s, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/levels/%d", i), Message: fmt.Sprintf("%q has no number", text), Hint: "write levels like 8 mm, or 2 turns"}
		}
		if i > 0 && singular(m[2]) != singular(words) {
			return s, &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/levels/%d", i), Message: fmt.Sprintf("%q is in another unit than %q", text, levels[0]), Hint: "write all levels in one unit"}
		}
		if i == 0 || len(m[2]) > len(words) {
			words = m[2]
		}
		s.at = append(s.at, v)
	}
	s.print = func(v float64) string {
		return strings.TrimSpace(strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) + " " + words)
	}
	return s, s.apart(levels)
}

func singular(words string) string { return strings.TrimSuffix(strings.TrimSpace(words), "s") }

// lengthLevels reads levels that are all lengths.
func lengthLevels(levels []string) (s levelScale, ok bool) {
	var in unit.Unit[unit.Length]
	for _, text := range levels {
		t, err := unit.Read(text, unit.Reading[unit.Length]{Field: "level"})
		if err != nil {
			return s, false
		}
		in = t.Unit
		s.at = append(s.at, float64(t.Value))
	}
	style := unit.Style[unit.Length]{Unit: in, Digits: -1}
	s.print = func(v float64) string { return style.Print(unit.Length(v)) }
	return s, len(levels) > 0
}

// apart refuses levels that are the same.
func (s levelScale) apart(levels []string) error {
	for i, v := range s.at {
		for j := range i {
			if s.at[j] == v {
				return &notebook.Error{Code: notebook.Invalid, Field: fmt.Sprintf("/levels/%d", i), Message: fmt.Sprintf("%q stands there twice", levels[i]), Hint: "choose levels wide apart"}
			}
		}
	}
	return nil
}

// trialT is the 97.5 % quantile of Student's t.
func trialT(nu float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(0.5 + num.Confidence/2)
}
