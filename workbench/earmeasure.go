package workbench

import "tautline/sound"

// EarMeasure is a measure of a shot as it is shown: in milliseconds where it
// is a time.
type EarMeasure struct {
	Key, Label, Unit string
	Level            bool // depends on the recording's gain
	Digits           int  // after the decimal mark
	sound.Measure
}

// earMeasures are the measures that are shown and compared, with what to
// multiply by for their unit.
var earMeasures = []struct {
	key, label, unit string
	level            bool
	digits           int
	scale            float64
	of               func(sound.Measures) sound.Measure
}{
	{"exposure_db_rel", "level", "dB", true, 1, 1, func(m sound.Measures) sound.Measure { return m.Exposure }},
	{"rise_s", "attack", "ms", false, 1, 1e3, func(m sound.Measures) sound.Measure { return m.Rise }},
	{"early_late_db", "early against late", "dB", false, 1, 1, func(m sound.Measures) sound.Measure { return m.EarlyLate }},
	{"late_db_rel", "rings on", "dB", true, 1, 1, func(m sound.Measures) sound.Measure { return m.Late }},
	{"decay_early_s", "ring-down", "ms", false, 0, 1e3, func(m sound.Measures) sound.Measure { return m.DecayEarly }},
	{"centroid_hz", "pitch of the whole", "Hz", false, 0, 1, func(m sound.Measures) sound.Measure { return m.Centroid }},
}

// ShotMeasures lists what was measured of a shot, in the units it is shown in.
func ShotMeasures(m sound.Measures) []EarMeasure {
	out := make([]EarMeasure, len(earMeasures))
	for i, e := range earMeasures {
		v := e.of(m)
		v.Value, v.SD = e.scale*v.Value, e.scale*v.SD
		out[i] = EarMeasure{e.key, e.label, e.unit, e.level, e.digits, v}
	}
	return out
}

// ShotModes lists the vibrations that ring on after a shot: frequency and
// damping, the latter withheld where too few cycles were heard.
func ShotModes(m sound.Measures) (out [][2]EarMeasure) {
	for _, mode := range m.Modes {
		damping := mode.Damping
		damping.Value, damping.SD = 100*damping.Value, 100*damping.SD
		out = append(out, [2]EarMeasure{
			{Key: "frequency_hz", Label: "frequency", Unit: "Hz", Digits: 1, Measure: mode.Frequency},
			{Key: "damping_percent", Label: "damping", Unit: "%", Digits: 2, Measure: damping},
		})
	}
	return out
}
