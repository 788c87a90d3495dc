package trial

// Caution is the key of a warning about safety that belongs beside a plan.
type Caution string

// The cautions a plan can carry; common practice, no source. A computed figure
// never overrides the range's rules, the makers' instructions or a coach.
const (
	NoDryLoose    Caution = "no_dry_loose"
	UseStringer   Caution = "use_stringer"
	InspectBow    Caution = "inspect_bow"
	StayInRange   Caution = "stay_in_limb_range"
	MinimumMass   Caution = "arrow_minimum_mass"
	BareShaftWide Caution = "bare_shaft_flies_wide"
	ClearRange    Caution = "clear_range_behind"
	RulesDecide   Caution = "rules_and_coach_decide"
)

var cautionText = map[Caution]string{
	NoDryLoose:    "Never loose a string without an arrow on it.",
	UseStringer:   "Use a stringer for every change of twist; keep face and fingers out of the limbs' path.",
	InspectBow:    "Inspect limbs, string, nocks and shafts before you start; a cracked shaft can shatter in the hand.",
	StayInRange:   "Stay inside the limb maker's brace-height range.",
	MinimumMass:   "Shoot arrows at or above the maker's minimum mass.",
	BareShaftWide: "A bare shaft may fly wide: short distance, wide backstop.",
	ClearRange:    "Clear range behind the target; phones and helpers stand behind the line.",
	RulesDecide:   "The range's rules, the makers' instructions and a qualified coach decide.",
}

// Text says the caution in one sentence.
func (c Caution) Text() string { return cautionText[c] }
