package group

import (
	"fmt"

	"tautline/unit"
)

// Description is everything a group of arrows tells about itself.
type Description struct {
	Arrows, Ends      int
	RingOnly          int // shots without a place, not used here
	Centre            CentreEstimate
	SigmaRight        Estimate[unit.Length]
	SigmaUp           Estimate[unit.Length]
	Sigma             Estimate[unit.Length] // pooled over both axes
	DF                float64               // of Sigma: 2Σ(n_e−1), or Satterthwaite's on an ellipse
	Ellipse           Ellipse
	ExtremeSpread     unit.Length // largest distance between two arrows of one end, mean over ends
	ExtremeExpected   unit.Length // what Sigma makes one expect for ends of this size; 0 if not known
	MeanRadius        unit.Length // from the ends' centres
	MeanRadiusExpects unit.Length
	LongRun           LongRun     // of all arrows: the ends' own centres scatter, too
	R50, R90          unit.Length // by LongRun: half, and nine in ten, of the arrows fall inside
	Outliers          []Outlier   // flagged at 5 %, kept in every figure
	Offsets           []ArrowOffset
	Assumptions       []string
	Warnings          []string
}

// Describe describes the placed shots of one set-up and one kind of arrow.
// One arrow is no error; it says what one arrow cannot tell.
func Describe(shots []Shot) (Description, error) {
	m, err := MomentsOf(shots)
	if err != nil {
		return Description{}, err
	}
	if m.Arrows == 0 {
		return Description{}, bad("arrows", "plot at least three arrows", "none has a place")
	}
	d := Description{
		Arrows: m.Arrows, Ends: m.Ends, RingOnly: len(shots) - m.Arrows, Centre: m.CentreInterval(),
		SigmaRight: Unknown[unit.Length](), SigmaUp: Unknown[unit.Length](), Sigma: Unknown[unit.Length](),
		LongRun: LongRun{Sigma: Unknown[unit.Length](), SigmaRight: Unknown[unit.Length](), SigmaUp: Unknown[unit.Length]()},
	}
	d.warn(shots, m)
	if m.DF < 1 {
		d.Warnings = append(d.Warnings, "no end holds two arrows: there is no spread to measure")
		return d, nil
	}
	d.SigmaRight, d.SigmaUp = m.SigmaRight(), m.SigmaUp()
	d.Sigma, d.DF = m.Sigma()
	d.Ellipse, d.MeanRadius, d.LongRun = m.Ellipse(), m.MeanRadius(), m.longRun()
	d.R50, d.R90 = d.LongRun.radius(0.5), d.LongRun.radius(0.9)
	d.ranges(shots, m)
	if d.Outliers, err = outliers(m, shots, 0.05); err != nil {
		return d, err
	}
	d.Offsets, err = ArrowOffsets(shots)
	d.Assumptions = []string{
		"arrows of one end scatter normally and independently about the end's own centre",
		"every end comes from the same archer's day, distance and set-up",
		"in the long run the ends' own centres scatter as they did in these ends; one end alone shows nothing of that",
	}
	return d, err
}

// ranges fills spreads that depend on the size of the ends.
func (d *Description) ranges(shots []Shot, m Moments) {
	list, err := placed(shots)
	if err != nil {
		return
	}
	n, s := unit.Length(0), d.Sigma.Value
	expected := map[int]Expected{} // an integral each: ends share few sizes
	for _, end := range byEnd(list) {
		if len(end) < 2 {
			continue
		}
		n++
		d.ExtremeSpread += ExtremeSpread(end)
		e, known := expected[len(end)]
		if !known {
			e, err = ExpectedOf(len(end))
			expected[len(end)] = e
		}
		if err == nil {
			d.ExtremeExpected += s * unit.Length(e.ExtremeSpread)
			d.MeanRadiusExpects += s * unit.Length(e.MeanRadius) * unit.Length(len(end))
		}
	}
	d.ExtremeSpread, d.ExtremeExpected = d.ExtremeSpread/n, d.ExtremeExpected/n
	d.MeanRadiusExpects /= unit.Length(m.Arrows)
}

func (d *Description) warn(shots []Shot, m Moments) {
	kinds, setups := map[Kind]bool{}, map[string]bool{}
	for i := range shots {
		if i == 0 || shots[i].Kind != shots[i-1].Kind || shots[i].Setup != shots[i-1].Setup {
			kinds[shots[i].Kind], setups[shots[i].Setup] = true, true
		}
	}
	if kinds[Bare] && len(kinds) > 1 {
		d.Warnings = append(d.Warnings, "bare shafts and fletched arrows are mixed: describe them apart")
	}
	if len(setups) > 1 {
		d.Warnings = append(d.Warnings, fmt.Sprintf("%d set-ups are mixed: describe them apart", len(setups)))
	}
	if m.DF >= 1 && m.DF < 5 {
		d.Warnings = append(d.Warnings, "few arrows: the interval is wide, and it is the honest part of the figure")
	}
	if m.DF >= 1 && !m.Circular() {
		d.Warnings = append(d.Warnings, "the group is plainly longer one way than the other: the pooled spread hides that, look at the ellipse")
	}
	if d.RingOnly > 0 {
		d.Warnings = append(d.Warnings, fmt.Sprintf("%d arrows have a ring and no place: they are not in these figures", d.RingOnly))
	}
}
