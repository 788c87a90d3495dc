package report

import "strings"

// labels are an archer's words for the entries of the settings whose key does
// not say it well enough.
var labels = map[string]string{
	"riser.offset":                     "pivot further back than usual",
	"riser.mass":                       "riser with stabilisers",
	"limbs.bow_length":                 "bow length",
	"limbs.marked_weight":              "weight marked on the limbs",
	"limbs.range_low":                  "maker's brace height, from",
	"limbs.range_high":                 "maker's brace height, to",
	"string.length":                    "string length",
	"string.twists":                    "turns in the string",
	"string.mass":                      "string mass",
	"string.material":                  "string material",
	"string.strands":                   "strands",
	"draw.length":                      "draw length",
	"draw.from":                        "draw length measured from",
	"draw.weight":                      "draw weight on the fingers",
	"draw.points":                      "draw–force points",
	"brace_height.value":               "brace height",
	"brace_height.from":                "brace height measured from",
	"brace_height.button_behind_pivot": "button behind the pivot",
	"nocking_point.value":              "nocking point",
	"nocking_point.of":                 "nocking point read to",
	"centre_shot":                      "centre shot, outward",
	"button.spring":                    "button spring",
	"button.turns":                     "button turns from the mark",
	"rest.wire_reach":                  "rest wire past the shaft's centre",
	"rest.powder_mark":                 "powder check of the rest",
	"hook_below":                       "fingers' pull below the nocking point",
	"pressure_point":                   "hand's pressure point above the pivot",
	"riser.pitch_inertia_kgm2":         "pitch inertia, kg m²",
	"riser.balance_ahead":              "balance point ahead of the pivot",
	"arrow.name":                       "arrow",
	"arrow.mass":                       "arrow mass",
	"arrow.spine":                      "static spine",
	"arrow.shaft_length":               "shaft length",
	"arrow.point_mass":                 "point mass",
}

// Label gives a settings key in an archer's words: "string.twists" is "turns
// in the string".
func Label(key string) string {
	if l, ok := labels[key]; ok {
		return l
	}
	return strings.NewReplacer("_", " ", ".", ": ").Replace(key)
}
