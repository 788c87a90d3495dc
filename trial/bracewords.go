package trial

import (
	"fmt"
	"math"
	"strings"

	"tautline/num"
	"tautline/unit"
)

// say puts the verdict in words.
func (v *BraceVerdict) say(r BraceReadings, list []*judged) {
	v.judged = list
	v.Text = v.sentence(wording{unit.Style[unit.Length]{Unit: unit.MM}}, list)
	if len(v.pair) > 0 {
		v.Assumptions = []string{
			"the setting was made anew at each visit, and visits scatter normally; the arrows of one visit are no repeats of the setting",
			"nothing but the brace height changed from visit to visit: same arrows, place, phone and gain; a steady drift is taken out",
		}
	} else {
		v.Assumptions = []string{
			"shots at one stop are independent and scatter roughly normally, equally at every stop",
			"nothing but the brace height changed from stop to stop: same arrows, place, phone and gain",
			"the trend over brace height bends one way, or is a broad curve; a step is not a trend",
		}
	}
	switch {
	case r.revisited():
	case v.Outcome == SpotFound:
		v.Warnings = append(v.Warnings, "every setting was made once: one that comes back different by half a shot's scatter makes a false spot in one trial of six; visit the spot and its neighbours again")
	default:
		v.Warnings = append(v.Warnings, "no stop was visited twice: a steady drift of string, archer or phone would look like brace height")
	}
	for _, j := range list {
		if j.measure == Feel {
			v.Warnings = append(v.Warnings, "feel is shown, not tested: an archer who knows the setting cannot be a blind judge; a sham repeat tells how often a difference is felt where there is none")
		}
	}
	v.WouldChange = v.wouldChange(list)
}

func (r BraceReadings) revisited() bool {
	seen := map[int]bool{}
	for _, v := range r.Visits {
		if v.counted() == 0 {
			continue
		}
		if seen[v.Stop] {
			return true
		}
		seen[v.Stop] = true
	}
	return false
}

// Sentence is the answer in a person's own units and decimal mark; Text is the
// same in mm.
func (v BraceVerdict) Sentence(style unit.Style[unit.Length]) string {
	if v.judged == nil {
		return v.Text
	}
	return v.sentence(wording{style}, v.judged)
}

// wording writes numbers the way a person reads them.
type wording struct{ style unit.Style[unit.Length] }

func (w wording) length(l unit.Length) string { return w.style.Print(l) }

func (w wording) number(x float64, digits int) string {
	text := fmt.Sprintf("%.*f", digits, x)
	if w.style.Decimal == unit.Comma {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

func (w wording) chance(p float64) string {
	if p < 0.001 {
		return "below " + w.number(0.001, 3)
	}
	return w.number(p, 3)
}

func (v *BraceVerdict) sentence(w wording, list []*judged) string {
	if len(v.pair) > 0 {
		return v.pairSentence(w, list)
	}
	switch v.Outcome {
	case SpotFound:
		text := ""
		for i, c := range v.Candidates {
			e := c.Evidence[0]
			if i > 0 {
				text += " "
			}
			low, high := math.Abs(e.Size.Low), math.Abs(e.Size.High)
			text += fmt.Sprintf("A %s spot stands out at %s (%s to %s): %s is %s %s %s the trend (%s to %s, p %s).",
				c.Kind, w.length(c.Brace.Value), w.length(c.Brace.Low), w.length(c.Brace.High), e.Measure.Name(), w.number(math.Abs(e.Size.Value), 1), e.Measure.Unit(),
				side(e.Size.Value), w.number(math.Min(low, high), 1), w.number(math.Max(low, high), 1), w.chance(e.P))
			if said := num.InFifty(e.P); said != "" {
				text += fmt.Sprintf(" By chance alone one as plain would stand out in %s such trials.", said)
			}
		}
		return text
	case Repeat:
		text := "No spot is certain (" + trendWords(w, list) + "), but something may be there; repeat these stops:"
		for i, s := range v.Repeats {
			if i > 0 {
				text += ";"
			}
			text += fmt.Sprintf(" %s with %d more arrows", w.length(s.Brace), s.Arrows)
		}
		return text + "."
	case NoSpot:
		return "No spot stands out: " + trendWords(w, list) + "."
	}
	return "Cannot tell: " + whyNot(list, v.Stops) + "."
}

func side(x float64) string {
	if x < 0 {
		return "below"
	}
	return "above"
}

func trendWords(w wording, list []*judged) string {
	text := ""
	for _, j := range list {
		if j.test == nil {
			continue
		}
		info, words := infoOf[j.measure], ""
		broad, hollow := j.broad()
		switch direction := j.direction(); {
		case broad.Known():
			words = fmt.Sprintf("%s has a broad %s near %s (%s to %s), which is a trend and not a spot", info.name,
				map[bool]string{true: "low", false: "high"}[hollow], w.length(broad.Value), w.length(broad.Low), w.length(broad.High))
		case direction == "falls":
			words = info.falling
		case direction == "rises":
			words = info.rising
		default:
			words = "no trend in " + info.name + " above its doubt"
		}
		if text != "" {
			text += ", "
		}
		text += words
	}
	return text
}

func whyNot(list []*judged, stops int) string {
	if len(list) == 0 {
		return "only brace heights were recorded, nothing that was heard, timed or felt"
	}
	text := ""
	for _, j := range list {
		if j.note == "" {
			continue
		}
		if text != "" {
			text += "; "
		}
		text += j.measure.Name() + ": " + j.note
	}
	return text
}

func (v *BraceVerdict) wouldChange(list []*judged) []string {
	if len(v.pair) > 0 {
		return v.pairChanges(list)
	}
	var out []string
	for _, j := range list {
		if j.test == nil {
			if j.note != "" && j.measure != Feel {
				out = append(out, j.measure.Name()+": "+j.remedy())
			}
			continue
		}
		if v.Outcome != SpotFound && !math.IsInf(j.detectable, 1) {
			out = append(out, fmt.Sprintf("a spot of less than %.1f %s in %s could hide here; four times the arrows would halve that",
				j.detectable, j.measure.Unit(), j.measure.Name()))
		}
	}
	if v.Outcome == SpotFound {
		out = append(out, "a second visit to the spot and its neighbours (A-B-B-A) that does not show it again")
	}
	return out
}
