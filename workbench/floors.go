package workbench

import (
	"math"
	"strings"

	"tautline/notebook"
	"tautline/unit"
)

// floor is an effect that the model lacks: what moving an entry may do beyond
// what is computed. Once is for having moved it at all, Per for each unit it
// moved (metres, kilograms, turns). All are common practice without a source,
// or assumed; docs/theory/standing.md prints them.
type floor struct{ once, per float64 }

// unknown is an effect that nothing here can bound: the result must be looked
// at again, whatever its size.
var unknown = floor{once: math.Inf(1)}

// Distances at which the floors of what is seen on the target are stated; at
// another they grow with the distance.
const (
	floorBare unit.Length = 30
	floorFar  unit.Length = 70
)

// floorOf gives the floor of an entry for a quantity.
func floorOf(key string, q Quantity) floor {
	group := groupOf(key)
	if q.Kind == OfSpread {
		if group == "" || group == "sight_extension" {
			return floor{} // where the sight stands does not move the scatter
		}
		return unknown
	}
	if q.Kind == OfBareUp {
		return heightFloor(group, float64(q.Distance/floorBare))
	}
	f, ok := floors[group][q.Kind]
	if !ok {
		f = floors[group]["*"]
	}
	scale := 1.0
	switch q.Kind {
	case OfBare:
		scale = float64(q.Distance / floorBare)
	case OfRight, OfUp:
		scale = float64(q.Distance / floorFar)
	}
	return floor{f.once * scale, f.per * scale}
}

// OfBareUp is how far above the fletched arrows a bare shaft lands. On a fitted
// bow its slopes are the vertical model's; without a fit, and for parts that it
// does not know, the floors stand for the whole effect.
const OfBareUp = string(notebook.ReadBareUp)

// heightFloor is what moving a part does to a bare shaft's height at 30 m, as
// the vertical model has it with room to spare (docs/theory/vertical.md);
// scale carries it to another distance. What is not listed must be shot again.
func heightFloor(group string, scale float64) floor {
	if group == "" || group == "sight_extension" || group == "button.turns" || group == "spring" {
		return floor{}
	}
	f, ok := map[string]floor{
		"nocking_point.value": {per: 60}, "rest.height": {per: 60}, "hook_below": {per: 25}, "pressure_point": {per: 20},
		"tiller": {per: 5}, "brace_height.value": {once: 0.01, per: 8}, "rest.wire_reach": {per: 100}, "string": {once: 0.1}, "stabilisers": {once: 0.03},
	}[group]
	if !ok {
		return unknown
	}
	return floor{f.once * scale, f.per * scale}
}

// heightLack is what moving a part may do to a bare shaft's height beyond what
// the vertical model computed, at 30 m (assumed, as for a button sideways).
const heightLack = 0.005

// groupOf is the part of the bow an entry belongs to.
func groupOf(key string) string {
	switch {
	case bookkeeping[key]:
		return ""
	case key == "limbs.bow_length", key == "limbs.marked_weight", key == "riser.length", key == "limbs.marked_at":
		return "limbs"
	case strings.HasPrefix(key, "riser.bolts"):
		return "bolts"
	case key == "riser.rods", key == "riser.mass":
		return "stabilisers"
	case key == "nock_fit", key == "tab", key == "rest.name", key == "string.serving":
		return "touch"
	case key == "button.spring":
		return "spring"
	case strings.HasPrefix(key, "string."):
		return "string"
	case key == "arrow.name", key == "arrow.id":
		return "arrow"
	}
	return key
}

// bookkeeping are entries that say how something is written, not how the bow
// is.
var bookkeeping = map[string]bool{
	"notes": true, "draw.from": true, "draw.at_brace_height": true, "draw.points": true, "brace_height.from": true, "brace_height.button_behind_pivot": true,
	"nocking_point.of": true, "rest.powder_mark": true, "riser.pitch_inertia_kgm2": true, "riser.balance_ahead": true, "limbs.range_low": true, "limbs.range_high": true, "arrow.count": true, "arrow.minimum_mass": true, "riser.offset": true, "string.twists": true,
}

// floors by part of the bow and quantity; "*" is every quantity not named.
var floors = map[string]map[string]floor{
	"string": {
		OfSpeed: {once: 0.4}, OfDrawWeight: {once: 1}, OfTime: {once: 1e-4}, OfBare: {once: 0.03}, OfRight: {once: 0.03}, OfUp: {once: 0.08},
		"brace_height": {once: 0.003}, "nocking_point": {once: 0.001}, "tiller": {once: 0.0005},
	},
	"brace_height.value": {
		OfSpeed: {once: 0.05}, OfBare: {once: 0.005, per: 0.5}, OfRight: {per: 0.5}, OfUp: {once: 0.01, per: 2},
		"nocking_point": {per: 0.05}, "tiller": {per: 0.05},
	},
	"nocking_point.value": {OfSpeed: {per: 30}, OfBare: {per: 5}, OfRight: {per: 5}, OfUp: {per: 40}},
	"tiller":              {OfBare: {per: 2}, OfRight: {per: 2}, OfUp: {per: 10}, OfDrawWeight: {per: 300}},
	"bolts":               {OfSpeed: {per: 0.5}, OfDrawWeight: {per: 9}, OfTime: {per: 2e-4}, OfBare: {per: 0.03}, OfRight: {per: 0.03}, OfUp: {per: 0.15}, "brace_height": {per: 0.002}, "tiller": {per: 0.0015}},
	"rest.height":         {OfBare: {per: 5}, OfRight: {per: 3}, OfUp: {per: 40}, "nocking_point": {per: 1}},
	"rest.wire_reach":     {OfBare: {per: 10}, OfRight: {per: 10}, OfUp: {per: 10}},
	"button.turns":        {OfBare: {once: 0.005}, OfRight: {once: 0.005}},
	"spring":              {OfBare: unknown, OfRight: unknown},
	"centre_shot":         {OfBare: {once: 0.005}, OfRight: {once: 0.01}},
	"clicker":             {OfSpeed: {per: 80}, OfDrawWeight: {per: 260}, OfBare: {per: 3}, OfRight: {per: 3}, OfUp: {per: 25}},
	"stabilisers":         {OfBare: {once: 0.01}, OfRight: {once: 0.02}, OfUp: {once: 0.03}, OfTime: {once: 2e-5}, OfSpeed: {once: 0.05}},
	"touch":               {OfBare: {once: 0.03}, OfRight: {once: 0.03}, OfUp: {once: 0.06}, OfSpeed: {once: 0.2}, OfTime: {once: 5e-5}},
	"sight_extension":     {OfRight: unknown, OfUp: unknown},
	"hook_below":          {OfBare: {per: 2}, OfRight: {per: 2}, OfUp: {per: 15}, "nocking_point": {}},
	"pressure_point":      {OfBare: {per: 1}, OfRight: {per: 1}, OfUp: {per: 10}},
	"crawl":               {OfUp: unknown, OfBare: unknown, OfRight: unknown, OfSpeed: unknown, OfDrawWeight: unknown},
	"string_walking":      {OfUp: unknown, OfBare: unknown, OfRight: unknown, OfSpeed: unknown, OfDrawWeight: unknown},
	"limbs":               {"*": unknown},
	"arrow":               {OfBare: {once: 0.02}, OfRight: {once: 0.02}, OfUp: {once: 0.04}},
	"arrow.spine":         {OfBare: {once: 0.01}, OfRight: {once: 0.01}},
	"arrow.diameter":      {OfBare: {once: 0.01, per: 20}, OfRight: {once: 0.01, per: 20}, OfUp: {once: 0.02, per: 50}},
}
