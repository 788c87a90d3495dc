package workbench

import (
	"tautline/notebook"
	"tautline/unit"
)

// mover is one entry of the settings that people move, and how.
type mover struct {
	key string // as in notebook.Keys
	// read gives the entry in SI (or turns), and whether it is noted at all.
	read func(notebook.Settings) (float64, bool)
	// write sets it; nil for an entry that the model does not know.
	write func(*notebook.Settings, float64)
	// step is what the model is tried with, up and down.
	step float64
	// again is how well people set it twice running, one and a half standard
	// deviations or so (common practice, no source).
	again float64
}

// movers are the entries with a number, in the order of the settings.
func movers() []mover {
	return []mover{
		{"brace_height.value", readBrace, writeBrace, 0.006, 0.0005},
		length("nocking_point.value", func(s *notebook.Settings) *notebook.Length { return &s.NockingPoint.Value }, 0, 0.0003),
		length("tiller", func(s *notebook.Settings) *notebook.Length { return &s.Tiller }, 0, 0.0005),
		length("centre_shot", func(s *notebook.Settings) *notebook.Length { return &s.CentreShot }, 0.0005, 0.0003),
		turnsOf("button.turns", func(s *notebook.Settings) **float64 { return &s.Button.Turns }, 1, 0.1),
		length("rest.height", func(s *notebook.Settings) *notebook.Length { return &s.Rest.Height }, 0, 0.0003),
		length("rest.wire_reach", func(s *notebook.Settings) *notebook.Length { return &s.Rest.Reach }, 0, 0.0003),
		length("hook_below", func(s *notebook.Settings) *notebook.Length { return &s.HookBelow }, 0, 0.001),
		length("pressure_point", func(s *notebook.Settings) *notebook.Length { return &s.PressurePoint }, 0, 0.001),
		length("sight_extension", func(s *notebook.Settings) *notebook.Length { return &s.SightExt }, 0, 0.001),
		length("crawl", func(s *notebook.Settings) *notebook.Length { return &s.Crawl }, 0, 0.001),
		length("clicker", func(s *notebook.Settings) *notebook.Length { return &s.Clicker }, 0, 0.0005),
		turnsOf("riser.bolts_upper_turns", func(s *notebook.Settings) **float64 { return &s.Riser.BoltsUpper }, 0, 0.05),
		turnsOf("riser.bolts_lower_turns", func(s *notebook.Settings) **float64 { return &s.Riser.BoltsLower }, 0, 0.05),
		mass("string.mass", func(s *notebook.Settings) *notebook.Mass { return &s.String.Mass }, 0.0003),
		mass("string.nocking_mass", func(s *notebook.Settings) *notebook.Mass { return &s.String.NockMass }, 0.0001),
		strandsMover(),
		length("draw.length", func(s *notebook.Settings) *notebook.Length { return &s.Draw.Length }, 0.005, 0.002),
		weightMover(),
		mass("arrow.mass", func(s *notebook.Settings) *notebook.Mass { return &s.Arrow.Mass }, 0.001),
		spineMover(),
		length("arrow.shaft_length", func(s *notebook.Settings) *notebook.Length { return &s.Arrow.Length }, 0.01, 0.0005),
		mass("arrow.point_mass", func(s *notebook.Settings) *notebook.Mass { return &s.Arrow.PointMass }, 0.001),
		mass("arrow.nock_mass", func(s *notebook.Settings) *notebook.Mass { return &s.Arrow.NockMass }, 0.0001),
		mass("arrow.fletching_mass", func(s *notebook.Settings) *notebook.Mass { return &s.Arrow.FletchMass }, 0.0001),
	}
}

func moverOf(key string) (mover, bool) {
	for _, m := range movers() {
		if m.key == key {
			return m, true
		}
	}
	return mover{}, false
}

// upright is the mover for heights, which knows entries that nothing sideways
// depends on, and tries what both know in the steps that heights ask for.
func (m mover) upright() mover {
	step, ok := map[string]float64{
		"nocking_point.value": 0.001, "rest.height": 0.001, "tiller": 0.002, "hook_below": 0.002, "pressure_point": 0.002, "rest.wire_reach": 0.001,
	}[m.key]
	if !ok {
		return m
	}
	at := map[string]func(*notebook.Settings) *notebook.Length{
		"nocking_point.value": func(s *notebook.Settings) *notebook.Length { return &s.NockingPoint.Value },
		"rest.height":         func(s *notebook.Settings) *notebook.Length { return &s.Rest.Height },
		"tiller":              func(s *notebook.Settings) *notebook.Length { return &s.Tiller },
		"hook_below":          func(s *notebook.Settings) *notebook.Length { return &s.HookBelow },
		"pressure_point":      func(s *notebook.Settings) *notebook.Length { return &s.PressurePoint },
		"rest.wire_reach":     func(s *notebook.Settings) *notebook.Length { return &s.Rest.Reach },
	}[m.key]
	up := length(m.key, at, step, m.again)
	if m.key == "rest.height" { // the nocking point stays on the string
		write := up.write
		up.write = func(s *notebook.Settings, v float64) {
			before := *s
			write(s, v)
			*s, _ = nockLeft(before, *s)
		}
	}
	return up
}

func readBrace(s notebook.Settings) (float64, bool) {
	v, ok := s.BraceHeight.ToPivot()
	return float64(v), ok
}

// writeBrace keeps the draw's readings tied to the brace height they were
// taken at.
func writeBrace(s *notebook.Settings, v float64) {
	before := *s
	s.BraceHeight = notebook.BraceHeight{Value: notebook.Length{Typed: unit.Said(unit.Length(v), unit.MM)}}
	if before.BraceHeight.From == notebook.EdgeButton {
		s.BraceHeight.ButtonBehind, s.BraceHeight.From = before.BraceHeight.ButtonBehind, notebook.EdgeButton
		s.BraceHeight.Value = notebook.Length{Typed: unit.Said(unit.Length(v)+before.BraceHeight.ButtonBehind.Value, unit.MM)}
	}
	*s = notebook.Carry(before, *s)
}

func length(key string, at func(*notebook.Settings) *notebook.Length, step, again float64) mover {
	m := mover{key: key, step: step, again: again, read: func(s notebook.Settings) (float64, bool) { l := at(&s); return float64(l.Value), !l.IsZero() }}
	if step > 0 {
		m.write = func(s *notebook.Settings, v float64) {
			*at(s) = notebook.Length{Typed: unit.Said(unit.Length(v), unit.MM)}
		}
	}
	return m
}

func mass(key string, at func(*notebook.Settings) *notebook.Mass, step float64) mover {
	return mover{
		key: key, step: step,
		read:  func(s notebook.Settings) (float64, bool) { m := at(&s); return float64(m.Value), !m.IsZero() },
		write: func(s *notebook.Settings, v float64) { *at(s) = notebook.Mass{Typed: unit.Said(unit.Mass(v), unit.G)} },
	}
}

func turnsOf(key string, at func(*notebook.Settings) **float64, step, again float64) mover {
	m := mover{key: key, step: step, again: again, read: func(s notebook.Settings) (float64, bool) {
		if n := *at(&s); n != nil {
			return *n, true
		}
		return 0, false
	}}
	if step > 0 {
		m.write = func(s *notebook.Settings, v float64) { *at(s) = &v }
	}
	return m
}

func strandsMover() mover {
	return mover{
		key: "string.strands", step: 2,
		read:  func(s notebook.Settings) (float64, bool) { return float64(s.String.Strands), s.String.Strands > 0 },
		write: func(s *notebook.Settings, v float64) { s.String.Strands = int(v) },
	}
}

func weightMover() mover {
	return mover{
		key: "draw.weight", step: 4, again: 0.5,
		read: func(s notebook.Settings) (float64, bool) {
			return float64(s.Draw.Weight.Value), !s.Draw.Weight.IsZero()
		},
		write: func(s *notebook.Settings, v float64) {
			s.Draw.Weight = notebook.Force{Typed: unit.Said(unit.Force(v), unit.Lbf)}
		},
	}
}

func spineMover() mover {
	return mover{
		key: "arrow.spine", step: 30 * float64(unit.ThousandthInch),
		read: func(s notebook.Settings) (float64, bool) {
			return float64(s.Arrow.Spine.Value), !s.Arrow.Spine.IsZero()
		},
		write: func(s *notebook.Settings, v float64) {
			s.Arrow.Spine = notebook.Spine{Typed: unit.Said(unit.Spine(v), unit.Thou)}
		},
	}
}
