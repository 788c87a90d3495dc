package notebook

import (
	"fmt"
	"math"
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

// checkValue holds the value against what its kind allows.
func (r Reading) checkValue() []Error {
	info, ok := r.Kind.Info()
	switch {
	case !ok:
		return []Error{{Code: Invalid, Field: "/kind", Message: fmt.Sprintf("%q is not a kind of reading", r.Kind), Hint: "such as brace_height or speed"}}
	case info.WordsOnly:
		return nil
	case math.IsNaN(r.Value) || !(r.Value >= info.Low && r.Value <= info.High):
		return []Error{{Code: Invalid, Field: "/value", Message: fmt.Sprintf("%s %g %s is outside %g to %g", info.Label, r.Value, info.SI, info.Low, info.High), Hint: "check the number and its unit"}}
	}
	return nil
}
