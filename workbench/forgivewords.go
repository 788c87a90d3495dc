package workbench

import (
	"fmt"
	"math"
	"strings"
)

// sourceWords are the sources as an archer says them.
var sourceWords = [sources]string{
	"the aim", "a moving bow arm", "the hand's torque", "the size of the release", "the draw hand's side", "draw length", "nock fit", "arrow mass", "spine from arrow to arrow",
}

// named lists the sources whose change has a sign, in words: "the size of the
// release matters 3 to 5 % less, draw length 4 to 6 % more".
func (c *ForgiveChange) named() string {
	var parts []string
	for s := ArmRate; s < sources; s++ {
		one, ok := c.BySource[s.String()]
		if !ok || one.Sign == 0 {
			continue
		}
		word := "more"
		if one.Sign < 0 {
			word = "less"
		}
		verb := ""
		if len(parts) == 0 {
			verb = " matters"
		}
		low, high := math.Abs(one.Resolved), math.Abs(one.Lumped)
		parts = append(parts, fmt.Sprintf("%s%s %s %% %s", sourceWords[s], verb, fromTo(min(low, high), max(low, high), "%.0f"), word))
	}
	if len(parts) == 0 {
		return "for no single error do the models agree on more or less"
	}
	return strings.Join(parts, ", ")
}

// fromTo is "3 to 5", or "3" where both print the same.
func fromTo(low, high float64, format string) string {
	one, two := fmt.Sprintf(format, low), fmt.Sprintf(format, high)
	if one == two {
		return one
	}
	return one + " to " + two
}

// spreads are the middle bow's totals with both models of the string.
type spreads [2]float64

// with adds what the named errors do not make.
func (s spreads) with(rest spreads) spreads {
	return spreads{math.Hypot(s[0], rest[0]), math.Hypot(s[1], rest[1])}
}

// summarise is the plain sentence on the group, aim included. rest is what an
// archer's own group has beyond the named errors; it stays as it is.
func (f *Forgiveness) summarise(q ForgiveQuestion, from, to, rest spreads) {
	what := "the sideways spread at 70 m"
	if q.Group > 0 {
		what = "your group at 70 m"
	}
	a, b := from.with(rest), to.with(rest)
	change := max(math.Abs(percentOf(a[0], b[0])), math.Abs(percentOf(a[1], b[1])))
	word := "less than 72 arrows " + q.Over.either() + " can show"
	if change > f.ShownBy {
		word = "which 72 arrows " + q.Over.either() + " could show"
	}
	f.Summary = fmt.Sprintf("%s with nothing else changed, %s; %s would change from %.1f to %.1f cm (with the other model of the string from %.1f to %.1f cm): %s.",
		f.Compared, f.Changes[0].named(), what, 100*a[0], 100*b[0], 100*a[1], 100*b[1], word)
	if q.Group > 0 {
		f.Summary += fmt.Sprintf(" Of the group's %.1f cm the named errors make %s cm; the rest is unexplained and taken to stay.",
			100*float64(q.Group), fromTo(100*min(from[0], from[1]), 100*max(from[0], from[1]), "%.1f"))
	}
}

// speak says it in one plain sentence.
func (c *ForgiveChange) speak(o Over, from, to forgiveStand, shown float64) {
	walk := fmt.Sprintf("%s, %s", o.span(from, to), c.Treatment)
	biggest := max(math.Abs(c.Resolved.Low), math.Abs(c.Resolved.High), math.Abs(c.Lumped.Low), math.Abs(c.Lumped.High))
	seen := fmt.Sprintf("72 arrows %s show %.0f %%", o.either(), shown)
	switch {
	case c.BySource == nil && c.Treatment == RetunedByButton:
		c.Sentence = walk + ": it cannot be re-tuned with the button."
	case c.BySource == nil:
		c.Sentence = walk + ": it cannot be re-tuned."
	case c.Sign == 0 && biggest < shown:
		c.Sentence = fmt.Sprintf("%s: the spread without the aim changes by less than %.0f %%, and the models do not agree which way; %s, so no group would tell.", walk, math.Ceil(biggest), seen)
	case c.Sign == 0:
		c.Sentence = fmt.Sprintf("%s: the models do not agree whether the spread grows or shrinks.", walk)
	default:
		word := "grows"
		if c.Sign < 0 {
			word = "shrinks"
		}
		c.Sentence = fmt.Sprintf("%s: the spread without the aim %s, by %.1f %% with one model of the string and %.1f %% with the other; %s.",
			walk, word, math.Abs(c.Resolved.Value), math.Abs(c.Lumped.Value), seen)
		if c.Treatment == RetunedByButton {
			c.Sentence += " Most of it is the button's doing, not the brace height's."
		}
	}
}
