package notebook

import (
	"fmt"
	"math"
	"strings"

	"tautline/unit"
)

// Kind is what a reading measures.
type Kind string

// The kinds of reading.
const (
	ReadBrace        Kind = "brace_height"  // m, to the edge stated
	ReadTurns        Kind = "turns"         // turns added since the trial's start
	ReadStringLength Kind = "string_length" // m
	ReadSpeed        Kind = "speed"         // m/s at the chronograph
	ReadDrawWeight   Kind = "draw_weight"   // N
	ReadNockingPoint Kind = "nocking_point" // m
	ReadTiller       Kind = "tiller"        // m
	ReadFeel         Kind = "feel"          // 1 harsh … 5 sweet, by the archer's hand and ear
	ReadArrows       Kind = "arrows"        // arrows shot, settling shots not counted
	ReadNote         Kind = "note"          // words only
	// ReadSoundLevel is a shot's A-weighted exposure level against the
	// session's usual one, in dB.
	ReadSoundLevel Kind = "sound_level"
	// ReadSoundLate is the share of a shot's sound energy that comes late.
	ReadSoundLate Kind = "sound_late_energy"
	// ReadDrawForce is the force at Reading.DrawLength, N.
	ReadDrawForce Kind = "draw_force"
	// ReadBareShaft is how far right of the fletched group's centre the bare
	// shafts' centre lies at Reading.Distance, m, as seen from the shooting
	// line.
	ReadBareShaft Kind = "bare_shaft_right"
	// ReadBareUp is how far above the fletched group's centre the bare shafts'
	// centre lies at Reading.Distance, m.
	ReadBareUp Kind = "bare_shaft_up"
	// ReadGroupRight is how far right of the point of aim the centre of a
	// group of fletched arrows lies at Reading.Distance, m, the sight left as
	// it was.
	ReadGroupRight Kind = "group_centre_right"
	// ReadSightMark is the sight's scale for Reading.Distance, m; a scale
	// without a unit counts as millimetres.
	ReadSightMark Kind = "sight_mark"
	// ReadDrawLength is the draw length at the clicker, m, quoted as the set-up
	// quotes its own.
	ReadDrawLength Kind = "draw_length"
	// ReadButton is the turns of the button from its marked zero.
	ReadButton Kind = "button_turns"
)

// KindInfo says what a kind's Value is in, how it is typed, and what is
// possible at all.
type KindInfo struct {
	Kind      Kind
	Label     string // in an archer's words
	SI        string // unit of Value, "" for counts
	Low, High float64
	WordsOnly bool // Value has no meaning
}

// Kinds lists every kind of reading. The limits hold any bow this program is
// for; what lies outside is a slip.
func Kinds() []KindInfo {
	return []KindInfo{
		{Kind: ReadBrace, Label: "brace height", SI: "m", Low: 0.10, High: 0.35},
		{Kind: ReadTurns, Label: "string turns added", Low: -60, High: 60},
		{Kind: ReadStringLength, Label: "string length", SI: "m", Low: 1.0, High: 2.0},
		{Kind: ReadSpeed, Label: "arrow speed", SI: "m/s", Low: 15, High: 110},
		{Kind: ReadDrawWeight, Label: "draw weight", SI: "N", Low: 10, High: 450},
		{Kind: ReadNockingPoint, Label: "nocking point", SI: "m", Low: -0.03, High: 0.06},
		{Kind: ReadTiller, Label: "tiller", SI: "m", Low: -0.05, High: 0.05},
		{Kind: ReadFeel, Label: "feel", Low: 1, High: 5},
		{Kind: ReadArrows, Label: "arrows shot", Low: 0, High: 500},
		{Kind: ReadSoundLevel, Label: "loudness against the session", SI: "dB", Low: -60, High: 60},
		{Kind: ReadSoundLate, Label: "late share of the sound", Low: 0, High: 1},
		{Kind: ReadDrawForce, Label: "draw force", SI: "N", Low: 1, High: 450},
		{Kind: ReadBareShaft, Label: "bare shaft right of the group", SI: "m", Low: -3, High: 3},
		{Kind: ReadBareUp, Label: "bare shaft above the group", SI: "m", Low: -3, High: 3},
		{Kind: ReadGroupRight, Label: "group centre right of the aim", SI: "m", Low: -3, High: 3},
		{Kind: ReadSightMark, Label: "sight mark", SI: "m", Low: -0.3, High: 0.5},
		{Kind: ReadDrawLength, Label: "draw length", SI: "m", Low: 0.3, High: 0.95},
		{Kind: ReadButton, Label: "button turns", Low: -60, High: 60},
		{Kind: ReadNote, Label: "note", WordsOnly: true},
	}
}

// Info gives what is known of a kind.
func (k Kind) Info() (KindInfo, bool) {
	for _, i := range Kinds() {
		if i.Kind == k {
			return i, true
		}
	}
	return KindInfo{}, false
}

// checkValue holds the value against what its kind allows and what was typed.
func (r Reading) checkValue() []Error {
	info, ok := r.Kind.Info()
	switch {
	case !ok:
		return []Error{{Code: Invalid, Field: "/kind", Message: fmt.Sprintf("%q is not a kind of reading", r.Kind), Hint: "such as brace_height or speed"}}
	case info.WordsOnly:
		return nil
	case math.IsNaN(r.Value) || !(r.Value >= info.Low && r.Value <= info.High):
		return []Error{outside(r, info)}
	case !r.typedAgrees(info):
		return []Error{{Code: Invalid, Field: "/value", Message: fmt.Sprintf("the value %g %s is not what the text %q says", r.Value, info.SI, r.Text), Hint: "send the text as typed, with its unit, and the same quantity in SI"}}
	}
	return nil
}

// where is what a kind needs to know besides its value.
var where = map[Kind]string{
	ReadBareShaft: "/distance", ReadBareUp: "/distance", ReadGroupRight: "/distance", ReadSightMark: "/distance", ReadDrawForce: "/draw_length",
}

// checkWhere asks for the place that the kind needs, and doubts it.
func (c *checker) checkWhere(r Reading) {
	usual(c, "/distance", r.Distance, unit.Distance)
	usual(c, "/draw_length", r.DrawLength, unit.Usual[unit.Length]{What: "draw length", Low: 0.15, High: 0.95, Unit: unit.CM})
	usual(c, "/shaft/mass", r.Shaft.Mass, unit.ArrowMass)
	usual(c, "/shaft/spine", r.Shaft.Spine, unit.ShaftSpine)
	switch where[r.Kind] {
	case "/distance":
		if r.Distance.IsZero() {
			c.add("/distance", "where the target stood is missing", "such as 18 m or 30 m")
		}
	case "/draw_length":
		if r.DrawLength.IsZero() {
			c.add("/draw_length", "at which draw length the force was read is missing", "such as 24 in, quoted as the set-up quotes its own")
		}
	}
	if r.Doubt < 0 || math.IsNaN(r.Doubt) || math.IsInf(r.Doubt, 0) {
		c.add("/doubt", "a doubt is a length above none", "one standard deviation in the reading's unit, or nothing")
	}
}

// outside says which of the usual readings was perhaps meant.
func outside(r Reading, info KindInfo) Error {
	e := Error{Code: Invalid, Field: "/value", Message: fmt.Sprintf("%s %g %s is outside %g to %g", info.Label, r.Value, info.SI, info.Low, info.High), Hint: "check the number and its unit"}
	if of, ok := quantities[info.SI]; ok && !math.IsNaN(r.Value) && !math.IsInf(r.Value, 0) {
		e.Message, e.Hint, _ = strings.Cut(of.doubt(r, info), "; ")
	}
	return e
}

// typedAgrees reports whether text and value are the same quantity. A text
// that can be read in neither way of writing numbers is taken on trust: it may
// come from an instrument.
func (r Reading) typedAgrees(info KindInfo) bool {
	of, ok := quantities[info.SI]
	if !ok || r.Text == "" {
		return true
	}
	readable := false
	for _, mark := range []unit.Decimal{unit.Point, unit.Comma} {
		v, err := of.read(r, mark)
		if err != nil {
			continue
		}
		readable = true
		// 1e-9 is far finer than any instrument and coarser than rounding
		if math.Abs(v-r.Value) <= 1e-9*max(1, math.Abs(v)) {
			return true
		}
	}
	return !readable
}

// quantity reads and doubts a value of one quantity, by its SI unit.
type quantity struct {
	doubt func(Reading, KindInfo) string
	read  func(Reading, unit.Decimal) (float64, error)
}

var quantities = map[string]quantity{
	"m":   quantityOf(unit.MM),
	"m/s": quantityOf(unit.MPS),
	"N":   quantityOf(unit.Lbf),
}

func quantityOf[T unit.Quantity](told unit.Unit[T]) quantity {
	return quantity{
		doubt: func(r Reading, i KindInfo) string {
			usual := unit.Usual[T]{What: i.Label, Low: T(i.Low), High: T(i.High), Unit: told}
			return usual.Doubt(unit.Typed[T]{Value: T(r.Value), Text: r.Text, Unit: unit.Unit[T](r.Unit)})
		},
		read: func(r Reading, mark unit.Decimal) (float64, error) {
			v, err := unit.Read(r.Text, unit.Reading[T]{Bare: unit.Unit[T](r.Unit), Decimal: mark})
			return float64(v.Value), err
		},
	}
}
