package workbench

import (
	"slices"
	"strings"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// PutBack is the way from a bow as it now reads to one of its earlier set-ups,
// such as the indoor one: what to change, in the order in which a bow is set
// up, so that nothing later spoils what was set before.
type PutBack struct {
	Steps []PutBackStep
	// Noted are entries that differ and cannot be set: what was read, counted or
	// known then.
	Noted []notebook.Difference
	// After is what to check once all is set.
	After []string
}

// PutBackStep is one thing to change.
type PutBackStep struct {
	Part    string // what is worked on: "String"
	Do      string // what to do, in a sentence
	Tool    string // with what
	Changes []notebook.Difference
	// By is how far each of the changes goes, in the order of Changes, SI or
	// turns; nil where it is no number or was not noted.
	By []*float64
}

// work is one step of setting up a bow (job.md, "The whole job"; the tools are
// common practice, no source).
type work struct {
	part, do, tool string
	keys           []string // entries, or whole groups ending in a dot
}

// works are in the order of the job: what an earlier one moves spoils the later.
var works = []work{
	{"Riser and limbs", "Fit the other limbs or riser, unstrung, and check that the limbs are aligned.", "stringer", []string{"riser.length", "riser.offset", "limbs."}},
	{"Limb bolts", "Unstring the bow, then turn the limb bolts.", "hex key, stringer", []string{"riser.bolts_upper_turns", "riser.bolts_lower_turns"}},
	{"Stabilisers", "Screw the other stabilisers in.", "by hand", []string{"riser.mass", "riser.rods", "riser.pitch_inertia_kgm2", "riser.balance_ahead"}},
	{"String", "Put the other string on, with as many turns in it as it had.", "stringer", []string{"string.material", "string.strands", "string.length", "string.twists", "string.mass", "string.nocking_mass", "string.serving"}},
	{"Brace height", "Shoot five arrows, then twist the string until the square reads it.", "stringer, bow square", []string{"brace_height."}},
	{"Tiller", "Read both sides; turn the limb bolts, each a little, the bow unstrung, and read brace height again.", "hex key, bow square", []string{"tiller"}},
	{"Nocking point", "Set the square on the rest and move the locators.", "bow square, thread or pliers", []string{"nocking_point."}},
	{"Rest", "Set the rest.", "hex key", []string{"rest.name", "rest.height", "rest.wire_reach"}},
	{"Centre shot", "Look along the string and screw the button in or out: out, to the {outward} as you look along the arrow, reads more.", "hex key, an arrow", []string{"centre_shot"}},
	{"Button", "Put its spring in, then turn it from the marked zero.", "hex key", []string{"button."}},
	{"Clicker and sight", "Set clicker and sight extension.", "hex key, tape", []string{"clicker", "sight_extension"}},
	{"Arrows", "Take the other arrows, and check their nocks and shafts.", "by eye", []string{"arrow."}},
	{"Tab and hook", "Take tab and hook as they were.", "by hand", []string{"tab", "nock_fit", "crawl", "string_walking", "hook_below", "pressure_point"}},
}

// readOff are entries inside those groups that nobody sets.
var readOff = []string{"limbs.range_low", "limbs.range_high", "limbs.marked_at", "brace_height.from", "brace_height.button_behind_pivot", "nocking_point.of", "arrow.minimum_mass", "arrow.count", "arrow.id"}

// outward is the side that a shaft stands out to, as its archer looks along it.
func outward(hand notebook.Hand) string {
	if hand == notebook.LeftHanded {
		return "right"
	}
	return "left"
}

// PutBackTo lists what brings the bow, as it now reads, to one of its set-ups,
// in words for the hand that its archer draws with.
func (b BowRecords) PutBackTo(to notebook.SetUp, hand notebook.Hand) PutBack {
	var out PutBack
	if len(b.SetUps) == 0 {
		return out
	}
	now := b.asRead(len(b.SetUps)-1, time.Time{})
	differ, _ := notebook.Diff(now, to.Settings) // its error is always nil
	for i, d := range differ {
		if read := flatLength(d.Key, now); read != 0 && read != flatLength(d.Key, b.SetUps[len(b.SetUps)-1].Settings) {
			differ[i].Before = unit.Both(read, unit.Point) // as a square shows it: nobody typed this
		}
	}
	left := slices.DeleteFunc(differ, func(d notebook.Difference) bool {
		if d.After != "" && settable(d.Key) {
			return false
		}
		if !strings.HasPrefix(d.Key, "string.shots") { // it goes on counting
			out.Noted = append(out.Noted, d)
		}
		return true
	})
	for _, w := range works {
		step := PutBackStep{Part: w.part, Do: strings.ReplaceAll(w.do, "{outward}", outward(hand)), Tool: w.tool}
		for _, d := range left {
			if w.holds(d.Key) {
				step.Changes, step.By = append(step.Changes, d), append(step.By, between(d.Key, now, to.Settings))
			}
		}
		if len(step.Changes) > 0 {
			out.Steps = append(out.Steps, step)
		}
	}
	if len(out.Steps) > 0 {
		out.After = []string{
			"Shoot five arrows, then read brace height, tiller and nocking point once more: each moves the others a little.",
			"Shoot one bare shaft beside a group at 18 m, with a wide backstop and a clear range behind.",
			"Take the sight marks of that set-up and check one of them before you trust the rest.",
		}
	}
	return out
}

// flatLength is an entry that a square reads, nought for any other.
func flatLength(key string, s notebook.Settings) unit.Length {
	switch key {
	case "brace_height.value":
		return s.BraceHeight.Value.Value
	case "nocking_point.value":
		return s.NockingPoint.Value.Value
	case "tiller":
		return s.Tiller.Value
	}
	return 0
}

func (w work) holds(key string) bool {
	return slices.ContainsFunc(w.keys, func(k string) bool {
		return k == key || strings.HasSuffix(k, ".") && strings.HasPrefix(key, k)
	})
}

// settable reports an entry that a hand can set.
func settable(key string) bool {
	return !slices.Contains(readOff, key) && slices.ContainsFunc(works, func(w work) bool { return w.holds(key) })
}

// between is how far an entry goes from one set-up to another.
func between(key string, from, to notebook.Settings) *float64 {
	m, known := moverOf(key)
	if !known {
		return nil
	}
	a, was := m.read(from)
	z, is := m.read(to)
	if !was || !is {
		return nil
	}
	by := z - a
	return &by
}

// Says prints how far the i-th change goes: "+2 turns", "-3 mm".
func (s PutBackStep) Says(i int, system unit.System) string {
	if s.By[i] == nil {
		return ""
	}
	by, sign := *s.By[i], "+"
	if by < 0 {
		sign, by = "−", -by
	}
	switch key := s.Changes[i].Key; {
	case strings.Contains(key, "turns"):
		if by == 1 {
			return sign + "1 turn"
		}
		return sign + system.Plain(by) + " turns"
	case key == "arrow.spine":
		return ""
	case strings.HasSuffix(key, "mass"):
		return sign + system.MassStyle().Print(unit.Mass(by))
	case key == "string.strands":
		return sign + system.Plain(by)
	}
	return sign + system.SettingStyle().Print(unit.Length(by))
}
