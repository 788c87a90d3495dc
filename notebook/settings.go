package notebook

import "tautline/unit"

// Settings is everything about a bow that can be set or read off it, and the
// arrow it shoots. Quantities are texts with their unit, as typed ("22.5 cm",
// "8 3/4 in", "44 lbf"); the same JSON is a bow file written by hand, the
// program's own requests and the export. Every field is optional unless said.
type Settings struct {
	Riser  Riser  `json:"riser,omitzero"`
	Limbs  Limbs  `json:"limbs,omitzero"`
	String String `json:"string,omitzero"`
	Draw   Draw   `json:"draw"`

	BraceHeight   BraceHeight  `json:"brace_height,omitzero"`
	NockingPoint  NockingPoint `json:"nocking_point,omitzero"`
	Tiller        Length       `json:"tiller,omitzero"`      // upper minus lower, string to limb at the pocket; usual 0 to 6 mm
	CentreShot    Length       `json:"centre_shot,omitzero"` // shaft's axis at the button from the string plane, outward positive; usual 0 to 5 mm
	Button        Button       `json:"button,omitzero"`
	Rest          Rest         `json:"rest,omitzero"`
	Clicker       Length       `json:"clicker,omitzero"`         // pivot to the clicker's edge
	SightExt      Length       `json:"sight_extension,omitzero"` // riser to sight pin
	HookBelow     Length       `json:"hook_below,omitzero"`      // middle of the fingers' pull below the nocking point, along the string; usual 2 to 12 mm
	PressurePoint Length       `json:"pressure_point,omitzero"`  // where the hand presses, above the pivot; usual -10 to 10 mm
	NockFit       string       `json:"nock_fit,omitempty"`       // in words: "holds, falls off with a tap"
	Tab           string       `json:"tab,omitempty"`            // tab or glove, in words
	Crawl         Length       `json:"crawl,omitzero"`           // below the nock, for string-walking
	StringWalking bool         `json:"string_walking,omitempty"`

	Arrow Arrow  `json:"arrow,omitzero"`
	Notes string `json:"notes,omitempty"`
}

// Short names for the quantities of a set-up, kept as typed.
type (
	// Length is a typed length.
	Length = unit.Text[unit.Length]
	// Mass is a typed mass.
	Mass = unit.Text[unit.Mass]
	// Force is a typed force.
	Force = unit.Text[unit.Force]
	// Spine is a typed static spine.
	Spine = unit.Text[unit.Spine]
)

// Riser is the handle with what is screwed to it.
type Riser struct {
	Length Length `json:"length,omitzero"` // 21 to 27 in
	// Offset is how much further back, toward the line of the limb pockets,
	// the grip's pivot lies than usual. Brace heights read smaller by it, so
	// a reading plus the offset is what the limb maker's range is about.
	// Usual 0, up to 15 mm.
	Offset     Length   `json:"offset,omitzero"`
	Mass       Mass     `json:"mass,omitzero"`               // with sight and stabilisers, usual 2 to 3.5 kg
	BoltsUpper *float64 `json:"bolts_upper_turns,omitempty"` // turns out from fully in, 0 to 8
	BoltsLower *float64 `json:"bolts_lower_turns,omitempty"`
	// PitchInertia is that of riser, sight and stabilisers about their balance
	// point, nose up and down, kg m²; usual 0.15 to 0.4. BalanceAhead is how far
	// that point lies ahead of the pivot; usual 5 to 25 cm.
	PitchInertia *float64 `json:"pitch_inertia_kgm2,omitempty"`
	BalanceAhead Length   `json:"balance_ahead,omitzero"`
	Rods         []Rod    `json:"rods,omitempty"`
}

// Rod is one stabiliser.
type Rod struct {
	Place  string `json:"place"` // "long", "side", "extender"
	Length Length `json:"length,omitzero"`
	Mass   Mass   `json:"mass,omitzero"`
}

// Limbs is the pair of limbs and what their maker says of them.
type Limbs struct {
	BowLength    Length `json:"bow_length,omitzero"`    // of the braced pair on this riser as named: 62 to 72 in
	MarkedWeight Force  `json:"marked_weight,omitzero"` // as printed on the limb
	MarkedAt     string `json:"marked_at,omitempty"`    // how the mark is meant, in words: "28 in, 25 in riser"
	// RangeLow and RangeHigh are the brace heights the maker allows, for the
	// usual grip position. Usual 18 to 25 cm.
	RangeLow  Length `json:"range_low,omitzero"`
	RangeHigh Length `json:"range_high,omitzero"`
}

// String is the bowstring.
type String struct {
	Material string `json:"material,omitempty"` // hmpe, lcp or polyester
	Strands  int    `json:"strands,omitempty"`  // 10 to 28
	Length   Length `json:"length,omitzero"`    // loop to loop, unstrung, pulled straight, twisted as it is
	// Twists is the number of turns in it, if it was ever counted from none;
	// people usually count only what they add. 0 to 60.
	Twists   *float64 `json:"twists,omitempty"`
	Mass     Mass     `json:"mass,omitzero"`         // with servings, 4 to 10 g
	NockMass Mass     `json:"nocking_mass,omitzero"` // centre serving's share and locators, 0.3 to 3 g
	Serving  string   `json:"serving,omitempty"`     // in words
	Shots    *int     `json:"shots_on_it,omitempty"` // how much it has been shot
}

// Draw is how the bow is drawn. Length and Weight are required for a
// prediction.
type Draw struct {
	Length Length   `json:"length"`
	From   DrawFrom `json:"from,omitempty"` // default standard
	Weight Force    `json:"weight"`         // on the fingers at that length
	// AtBrace is the brace height, to the pivot, at which Weight and Points
	// were read; empty means the present one. Carry keeps it when the brace
	// height moves and the readings do not.
	AtBrace Length      `json:"at_brace_height,omitzero"`
	Points  []DrawPoint `json:"points,omitempty"` // readings of the draw–force curve, 3 to 8
}

// DrawFrom says what a draw length was measured from.
type DrawFrom string

// The three ways a draw length is quoted.
const (
	FromStandard DrawFrom = "standard" // pivot plus 1.75 in, as makers quote it
	FromPivot    DrawFrom = "pivot"
	FromButton   DrawFrom = "button"
)

// DrawPoint is the force at one draw, measured the same way as Draw.From.
type DrawPoint struct {
	At    Length `json:"at"`
	Force Force  `json:"force"`
}

// BraceHeight is a reading of the bow square, from the grip's deepest point
// (pivot) to the string, square to it; the button is allowed as reference.
type BraceHeight struct {
	Value Length `json:"value,omitzero"`
	From  Edge   `json:"from,omitempty"` // pivot (default) or button
	// ButtonBehind is how much further from the string the button's reference
	// lies than the pivot, for readings from the button; usual -10 to 30 mm.
	ButtonBehind Length `json:"button_behind_pivot,omitzero"`
}

// Edge is the reference a reading was taken from.
type Edge string

// References of a brace-height reading.
const (
	EdgePivot  Edge = "pivot"
	EdgeButton Edge = "button"
)

// ToPivot gives the brace height to the pivot, and whether there is one.
func (b BraceHeight) ToPivot() (unit.Length, bool) {
	if b.Value.IsZero() {
		return 0, false
	}
	if b.From == EdgeButton {
		return b.Value.Value - b.ButtonBehind.Value, true
	}
	return b.Value.Value, true
}

// NockingPoint is read with the bow square on the rest.
type NockingPoint struct {
	Value Length `json:"value,omitzero"` // usual 4 to 14 mm
	// Of says to which edge: "upper locator, lower edge" (default), or another
	// in words.
	Of string `json:"of,omitempty"`
}

// Button is the pressure button as an archer can read it: a named spring and
// turns from a marked zero.
type Button struct {
	Spring string   `json:"spring,omitempty"`
	Turns  *float64 `json:"turns,omitempty"`
}

// Rest is the arrow rest.
type Rest struct {
	Name   string `json:"name,omitempty"`
	Height Length `json:"height,omitzero"`     // above the pivot, usual 30 to 50 mm
	Reach  Length `json:"wire_reach,omitzero"` // how far the wire sticks out past the shaft's centre, usual 0 to 4 mm
	// Powder is what powder or lipstick on the shaft's tail and the wire showed:
	// clean or marked. Empty when nobody looked.
	Powder Powder `json:"powder_mark,omitempty"`
}

// Powder is what a powder check of the rest showed.
type Powder string

// Outcomes of a powder check.
const (
	PowderClean  Powder = "clean"  // the tail passed without touching
	PowderMarked Powder = "marked" // tail or vanes touched the wire
)

// Arrow is one kind of arrow; the arrows of a set are equal as far as this
// goes. Mass is required for a prediction of speed.
type Arrow struct {
	ID          ID     `json:"id,omitempty"` // of the set in the notebook, if it is kept there
	Name        string `json:"name,omitempty"`
	Mass        Mass   `json:"mass,omitzero"`         // whole arrow, 12 to 40 g
	Spine       Spine  `json:"spine,omitzero"`        // static, 300 to 1600
	Length      Length `json:"shaft_length,omitzero"` // without nock, 55 to 85 cm
	PointMass   Mass   `json:"point_mass,omitzero"`   // with insert, 60 to 160 gr
	NockMass    Mass   `json:"nock_mass,omitzero"`
	FletchMass  Mass   `json:"fletching_mass,omitzero"`
	Diameter    Length `json:"diameter,omitzero"`     // 3.5 to 9.5 mm
	MinimumMass Mass   `json:"minimum_mass,omitzero"` // the bow maker's least arrow mass
	Count       int    `json:"count,omitempty"`
}
