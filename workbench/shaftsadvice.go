package workbench

import "fmt"

// borrowAdvice is for a bow that nothing was fitted to: nothing irreversible
// from a guess.
const borrowAdvice = "The model has not seen this bow shoot. Borrow one test shaft like the first that you can get, shoot it bare beside fletched ones at 18 m or less, and note where it lands. Buy nothing and cut nothing on this list."

// leastNear is the share of plausible set-ups in which the best shaft's bare
// shaft must land near for the list to be worth borrowing from (ours, no
// source): below one in ten it would most likely fly wide.
const leastNear = 0.10

// advise says whether the first of a ranked list is worth borrowing, and what
// to do.
func (b shaftBase) advise(ranked []ShaftTry) (borrow bool, advice string) {
	switch {
	case len(ranked) == 0:
		return false, "No shaft of an ordinary spine, of this length and with these points, passes the button on this bow as it is described: check draw weight, draw length and centre shot, or ask a coach."
	case !ranked[0].InWindow:
		return false, "No shaft on this list can be read by a bare shaft on this bow as it is described: borrow none for it. " + b.assumes()
	case ranked[0].Share < leastNear:
		return false, fmt.Sprintf("None of these bare shafts is likely to land near the group on this bow as it is described (within a hand's width at 18 m in %.0f %% of the plausible set-ups at best): borrow none for it. ", 100*ranked[0].Share) + b.assumes()
	}
	return true, borrowAdvice
}

// assumes names what a list that recommends nothing rests on, and who knows
// better.
func (b shaftBase) assumes() string {
	set := b.side.Setup
	text := fmt.Sprintf("That rests on a button taken to press with %.1f N, which nobody measured, and on ", float64(set.Button.Preload))
	if b.side.CentreKnown {
		text += fmt.Sprintf("the centre shot entered, %.1f mm: check it, ", set.CentreShot.Millimetres())
	} else {
		text += fmt.Sprintf("a centre shot of %.0f mm, assumed because none is entered: read it, ", set.CentreShot.Millimetres())
	}
	if b.settings.Button.Turns == nil {
		text += "and enter the button's turns, "
	}
	return text + "then ask again. Until then choose the first shafts by their maker's table and with a coach."
}
