package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"tautline/unit"
)

// BareEnd is one end with bare and fletched arrows at one aim.
type BareEnd struct {
	Fletched []Point
	Bare     []BareShot
}

// BareShot is one arrow of an identified bare shaft.
type BareShot struct {
	Shaft string // the shaft's number; needed, for the shaft is the unit
	Point Point
}

// BareShaftInput is a bare-shaft test.
type BareShaftInput struct {
	Ends     []BareEnd
	Distance unit.Length // 18 or 30 m are usual
	// MassEffect is the predicted height of the bare shaft from being lighter
	// and draggier than the fletched arrow, with its doubt; subtracted. Zero if
	// the tail is taped to equal mass and balance.
	MassEffect Estimate[unit.Length]
	Taped      bool // tail taped to equal mass and balance
	LeftHanded bool
}

// ShaftOffset is one shaft's mean offset from the fletched arrows.
type ShaftOffset struct {
	Shaft string
	Shots int
	Right unit.Length
	Up    unit.Length // mass effect not yet subtracted
}

// BareShaftVerdict says where bare shafts land against fletched arrows.
type BareShaftVerdict struct {
	Right Estimate[unit.Length] // bare minus fletched; the interval is over shafts
	Up    Estimate[unit.Length] // mass effect subtracted
	// Next is what to settle first: "height", then "side", "nothing", or
	// "more shafts" / "more arrows" when the test cannot tell.
	Next        string
	Acts        string // sideways in words: "weak", "stiff" or "" when the interval holds zero
	Text        string
	Shafts      []ShaftOffset
	Arrows      int
	Assumptions []string
	Warnings    []string
	WouldChange []string
	Cautions    []Caution
}

// DecideBareShaft measures the offset of bare from fletched arrows. Shafts
// differ (nock, straightness, stiffness around the tube), so each counts once
// and the interval is Student's over shafts, the fletched centre's own doubt
// added (degrees of freedom by Welch). Settle the height first: a shaft that
// touches the rest or the riser on its way also leaves sideways. It leaves out
// why: the changes that would mend it come from the fitted model.
func DecideBareShaft(in BareShaftInput) (BareShaftVerdict, error) {
	v := BareShaftVerdict{Cautions: []Caution{BareShaftWide, ClearRange, InspectBow, RulesDecide}}
	shafts, fletched, err := in.gather(&v)
	if err != nil {
		return v, err
	}
	v.Right = v.overShafts(fletched.right, func(s ShaftOffset) float64 { return float64(s.Right) })
	v.Up = v.overShafts(fletched.up, func(s ShaftOffset) float64 { return float64(s.Up) })
	v.Up = in.subtractMass(v.Up)
	v.judge(in, len(shafts))
	v.explain(in)
	return v, nil
}

// fletchedScatter is the variance of the mean fletched centre, per axis.
type fletchedScatter struct{ right, up centreVariance }

type centreVariance struct{ variance, df float64 }

// gather takes every end's bare shots from its own fletched centre.
func (in BareShaftInput) gather(v *BareShaftVerdict) (map[string]int, fletchedScatter, error) {
	index := map[string]int{}
	var ssx, ssy, df, n float64
	if !(in.Distance > 0 && in.Distance <= farthest) {
		return nil, fletchedScatter{}, bad("distance", "18 m or 30 m are usual", "%v is no distance", in.Distance)
	}
	if m := in.MassEffect; in.knowsMass() && !(m.Low <= m.Value && m.Value <= m.High) {
		return nil, fletchedScatter{}, bad("mass effect", "give it between the ends of its interval", "%v between %v and %v is no estimate", m.Value, m.Low, m.High)
	}
	for i, e := range in.Ends {
		field := fmt.Sprintf("end %d", i+1)
		if len(e.Bare) == 0 || len(e.Fletched) == 0 {
			return nil, fletchedScatter{}, bad(field, "shoot both in the same end, such as three fletched and three bare", "it has %d fletched and %d bare arrows", len(e.Fletched), len(e.Bare))
		}
		for _, p := range e.Fletched {
			if err := onField(field, p.Right, p.Up); err != nil {
				return nil, fletchedScatter{}, err
			}
		}
		fx, fy := End(e.Fletched).mean()
		for _, p := range e.Fletched {
			ssx, ssy = ssx+sq(float64(p.Right)-fx), ssy+sq(float64(p.Up)-fy)
		}
		df, n = df+float64(len(e.Fletched)-1), n+float64(len(e.Fletched))
		for _, b := range e.Bare {
			if err := onField(field, b.Point.Right, b.Point.Up); err != nil {
				return nil, fletchedScatter{}, err
			}
			if b.Shaft == "" {
				return nil, fletchedScatter{}, bad(field, "write a number on every bare shaft", "a bare arrow has no shaft number")
			}
			k, known := index[b.Shaft]
			if !known {
				k = len(v.Shafts)
				index[b.Shaft] = k
				v.Shafts = append(v.Shafts, ShaftOffset{Shaft: b.Shaft})
			}
			s := &v.Shafts[k]
			s.Right += b.Point.Right - unit.Length(fx)
			s.Up += b.Point.Up - unit.Length(fy)
			s.Shots++
		}
		v.Arrows += len(e.Fletched) + len(e.Bare)
	}
	if len(v.Shafts) == 0 {
		return nil, fletchedScatter{}, bad("ends", "shoot three fletched and three numbered bare arrows", "there are none")
	}
	for i := range v.Shafts {
		v.Shafts[i].Right /= unit.Length(v.Shafts[i].Shots)
		v.Shafts[i].Up /= unit.Length(v.Shafts[i].Shots)
	}
	if df == 0 {
		v.Warnings = append(v.Warnings, "one fletched arrow an end: how well its place is known is not in the interval; shoot two or more")
		return index, fletchedScatter{}, nil
	}
	return index, fletchedScatter{centreVariance{ssx / df / n, df}, centreVariance{ssy / df / n, df}}, nil
}

func sq(x float64) float64 { return x * x }

// overShafts is the mean over shafts with a t interval; unbounded with one.
func (v *BareShaftVerdict) overShafts(fletched centreVariance, of func(ShaftOffset) float64) Estimate[unit.Length] {
	var x []float64
	for _, s := range v.Shafts {
		x = append(x, of(s))
	}
	mean, variance := stat.MeanVariance(x, nil)
	e := Unknown[unit.Length]()
	e.Value = unit.Length(mean)
	if len(x) < 2 {
		return e
	}
	k := float64(len(x))
	vs := variance / k
	total := vs + fletched.variance
	nu := total * total / (vs*vs/(k-1) + sq(fletched.variance)/max(fletched.df, 1))
	return around(unit.Length(mean), unit.Length(quantileT(max(nu, 1), 0.5+Confidence/2)*math.Sqrt(total)))
}

// knowsMass reports whether there is a predicted effect to take off.
func (in BareShaftInput) knowsMass() bool { return in.MassEffect.Level != 0 && in.MassEffect.Known() }

// subtractMass takes the predicted effect off, its doubt added in squares.
func (in BareShaftInput) subtractMass(up Estimate[unit.Length]) Estimate[unit.Length] {
	if !in.knowsMass() {
		return up
	}
	up.Value -= in.MassEffect.Value
	half := unit.Length(math.Hypot(float64(up.High-up.Low)/2, float64(in.MassEffect.Half())))
	return Estimate[unit.Length]{Value: up.Value, Low: up.Value - half, High: up.Value + half, Level: up.Level}
}

func (v *BareShaftVerdict) judge(in BareShaftInput, shafts int) {
	weakSide := unit.Length(1)
	if in.LeftHanded {
		weakSide = -1
	}
	if !v.Right.Holds(0) {
		v.Acts = "stiff"
		if v.Right.Value*weakSide > 0 {
			v.Acts = "weak"
		}
	}
	// A half-width above 5 mm per metre of distance/10 cannot tell good from bad:
	// 5 cm at 10 m (common practice, no source).
	wide := func(e Estimate[unit.Length]) bool { return e.Half() > in.Distance*0.005 }
	switch {
	case shafts < 3:
		v.Next = "more shafts"
	case !v.Up.Holds(0):
		v.Next = "height"
	case !v.Right.Holds(0):
		v.Next = "side"
	case wide(v.Up) || wide(v.Right):
		v.Next = "more arrows"
	default:
		v.Next = "nothing"
	}
}

func (v *BareShaftVerdict) explain(in BareShaftInput) {
	v.Assumptions = []string{
		"bare and fletched arrows were shot at the same aim in the same ends",
		"the shafts are a fair choice of the archer's arrows",
	}
	if !in.Taped && !in.knowsMass() {
		v.Warnings = append(v.Warnings, "the bare shafts are lighter than the fletched arrows and nothing was subtracted: they fly a little high for that alone; tape the tail to equal mass and balance")
	}
	if len(v.Shafts) < 3 {
		v.Warnings = append(v.Warnings, fmt.Sprintf("%d bare shafts: one bent or badly nocked shaft would decide; three are the least", len(v.Shafts)))
	}
	describe := func(e Estimate[unit.Length], plus, minus string) string {
		if !e.Bounded() {
			return fmt.Sprintf("%s %s, interval not known", cm(abs64(e.Value)), word(e.Value, plus, minus))
		}
		return fmt.Sprintf("%s %s (%s to %s)", cm(abs64(e.Value)), word(e.Value, plus, minus), signedCM(e.Low), signedCM(e.High))
	}
	v.Text = fmt.Sprintf("Bare shafts land %s and %s of the fletched arrows.", describe(v.Right, "right", "left"), describe(v.Up, "high", "low"))
	switch v.Next {
	case "height":
		v.Text += " Settle the height first (nocking point or rest), then shoot again before touching the side."
	case "side":
		v.Text += " The height is settled within its doubt; sideways the arrows act " + v.Acts + "."
	case "nothing":
		v.Text += " Both lie within their doubt: nothing to do."
	case "more shafts":
		v.Text += " Cannot tell yet: at least three numbered bare shafts."
	default:
		v.Text += " Cannot tell yet: the interval is too wide to call it settled; more ends."
	}
	v.WouldChange = []string{"more shafts narrow the interval faster than more arrows of the same shafts"}
}

func abs64(l unit.Length) unit.Length { return unit.Length(math.Abs(float64(l))) }

func word(l unit.Length, plus, minus string) string {
	if l < 0 {
		return minus
	}
	return plus
}

func cm(l unit.Length) string { return l.Format(unit.CM, 1, unit.Point) }

func signedCM(l unit.Length) string {
	if l > 0 {
		return "+" + cm(l)
	}
	return cm(l)
}
