package workbench

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"tautline/notebook"
	"tautline/sound"
	"tautline/unit"
)

// SoundSide is one of two settings that are compared by sound: the shots of
// some recordings, or those of one stop in them.
type SoundSide struct {
	Name  string
	Heard []Heard
	Stop  *int // nil: every shot of the recordings
	Open  func(notebook.Recording) Opener
}

// Shots lists the side's shots that count, each with its recording.
func (s SoundSide) Shots() (shots []SideShot) {
	for _, h := range s.Heard {
		for _, shot := range h.Hearing.Measured() {
			if s.Stop != nil {
				if at, ok := h.StopOf(shot); !ok || at != *s.Stop {
					continue
				}
			}
			shots = append(shots, SideShot{h.Recording, shot})
		}
	}
	return shots
}

// SideShot is a shot with the recording it is in.
type SideShot struct {
	Recording notebook.Recording
	Shot      sound.Shot
}

// SoundMeasure is one measure compared between two settings, in the units of
// [EarMeasure].
type SoundMeasure struct {
	Key, Label, Unit string
	Level            bool
	Digits           int
	Mean             [2]float64 // NaN where nothing could be measured
	sound.Comparison
}

// SoundPair is two settings compared.
type SoundPair struct {
	Measures []SoundMeasure
	Spectra  [2]sound.BandLevels // empty where no shot could be cut out
	Shots    [2][]SideShot
	Warnings []string // what forbids comparing levels, and what is odd about the recordings
	Unalike  []string // those of them that forbid comparing levels
}

// mostSpectra is how many shots of a side go into its spectrum.
const mostSpectra = 60

// ComparePair compares two settings by every measure and lays their spectra
// over each other. Recordings made under different conditions are compared
// all the same, with warnings that say what cannot be trusted.
func ComparePair(ctx context.Context, a, b SoundSide) (SoundPair, error) {
	p := SoundPair{Shots: [2][]SideShot{a.Shots(), b.Shots()}}
	all := append(slices.Clone(a.Heard), b.Heard...)
	p.Warnings = soundWarnings(uniqueHeard(all))
	conditions := make([]sound.Conditions, len(all))
	for i, h := range all {
		conditions[i] = h.conditions()
	}
	for i := 1; i < len(conditions); i++ {
		p.Unalike = append(p.Unalike, conditions[0].Compare(conditions[i])...)
	}
	for _, m := range earMeasures {
		var sides [2][]sound.Measure
		one := SoundMeasure{Key: m.key, Label: m.label, Unit: m.unit, Level: m.level, Digits: m.digits}
		for i := range sides {
			sides[i], one.Mean[i] = sideValues(p.Shots[i], m.of, m.scale, m.level)
		}
		one.Comparison = sound.Compare(sides[0], sides[1], conditions...)
		if !m.level {
			one.Warnings = nil // gain does not move it
		}
		p.Measures = append(p.Measures, one)
	}
	var err error
	for i, side := range []SoundSide{a, b} {
		if p.Spectra[i], err = side.spectrum(ctx, p.Shots[i]); err != nil {
			return p, err
		}
	}
	return p, nil
}

// sideValues are one side's measures in their unit, and their mean. A clipped
// shot has no level.
func sideValues(shots []SideShot, of func(sound.Measures) sound.Measure, scale float64, level bool) ([]sound.Measure, float64) {
	var out []sound.Measure
	sum, n := 0.0, 0
	for _, s := range shots {
		v := of(s.Shot.Measures)
		v.Value, v.SD = scale*v.Value, scale*v.SD
		if level && s.Shot.Clipped > 0 {
			v.OK = false
		}
		if v.OK {
			sum, n = sum+v.Value, n+1
		}
		out = append(out, v)
	}
	if n == 0 {
		return out, math.NaN()
	}
	return out, sum / float64(n)
}

// spectrum is the mean spectrum of a side's shots in third octaves.
func (s SoundSide) spectrum(ctx context.Context, shots []SideShot) (sound.BandLevels, error) {
	var clips []sound.Clip
	var releases []unit.Duration
	for _, h := range s.Heard {
		var spans []sound.Span
		var at []unit.Duration
		for _, shot := range shots {
			if shot.Recording.ID == h.Recording.ID && len(releases)+len(at) < mostSpectra {
				spans = append(spans, sound.Span{From: shot.Shot.Release - 0.01, To: shot.Shot.Release + 0.2})
				at = append(at, shot.Shot.Release)
			}
		}
		if len(spans) == 0 {
			continue
		}
		got, err := pieces(ctx, s.Open(h.Recording), spans)
		if err != nil {
			return sound.BandLevels{}, err
		}
		clips, releases = append(clips, got...), append(releases, at...)
	}
	return sound.ThirdOctaves(clips, releases), nil
}

// Middle is the shot to play for a side: the one of middling level, so that
// neither a lucky nor an odd one stands for the setting.
func Middle(shots []SideShot) (SideShot, bool) {
	var known []SideShot
	for _, s := range shots {
		if s.Shot.Exposure.OK && s.Shot.Clipped == 0 {
			known = append(known, s)
		}
	}
	if len(known) == 0 {
		known = shots
	}
	if len(known) == 0 {
		return SideShot{}, false
	}
	known = slices.Clone(known)
	slices.SortStableFunc(known, func(a, b SideShot) int { return cmp.Compare(a.Shot.Exposure.Value, b.Shot.Exposure.Value) })
	return known[(len(known)-1)/2], true
}

// playBefore and playAfter are what is played around a release, and playGap
// the silence between two settings, s.
const (
	playBefore = 0.25
	playAfter  = 0.75
	playGap    = 0.6
)

// WritePair writes a shot of each setting, one after the other with a pause,
// at one gain: what is louder stays louder.
func WritePair(ctx context.Context, w io.Writer, a, b SoundSide) error {
	var clips [2]sound.Clip
	for i, side := range []SoundSide{a, b} {
		shot, ok := Middle(side.Shots())
		if !ok {
			return &notebook.Error{Code: notebook.Invalid, Field: "/recording", Message: fmt.Sprintf("no shot of %s was found, so there is none to play", side.Name), Hint: "add the shot by hand on the recording's page"}
		}
		clip, err := Piece(ctx, side.Open(shot.Recording), shot.Shot.Release-playBefore, shot.Shot.Release+playAfter)
		if err != nil {
			return err
		}
		clips[i] = clip
	}
	if clips[0].Rate != clips[1].Rate {
		return &notebook.Error{Code: notebook.Invalid, Field: "/recording", Message: fmt.Sprintf("the recordings have %d and %d samples a second and cannot be played as one", clips[0].Rate, clips[1].Rate), Hint: "play the shots one by one, or record both alike"}
	}
	gain := sound.EqualGain(clips[:]...)
	joint := sound.Clip{Rate: clips[0].Rate, Samples: slices.Concat(clips[0].Samples, make([]float64, int(playGap*float64(clips[0].Rate))), clips[1].Samples)}
	return sound.EncodeClip(w, joint, gain)
}

// uniqueHeard leaves out recordings that stand on both sides.
func uniqueHeard(list []Heard) (out []Heard) {
	for _, h := range list {
		if !slices.ContainsFunc(out, func(o Heard) bool { return o.Recording.ID == h.Recording.ID }) {
			out = append(out, h)
		}
	}
	return out
}
