package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"tautline/sound"
	"tautline/unit"
	"tautline/workbench"
)

// listenCmd finds the shots in recordings.
type listenCmd struct {
	Files []string `arg:"" help:"Recordings: WAV, FLAC, Ogg Vorbis, MP3 or Opus."`
	JSON  bool     `name:"json" help:"Print numbers for a program; keys end in their unit."`
}

// Help shows an example.
func (listenCmd) Help() string {
	return `Example:
  tautline listen evening.wav --json

Levels are decibels relative to the recording's own full scale: comparable
inside one recording set-up only (same phone, place, gain).`
}

// heardFile is one file's result.
type heardFile struct {
	File string `json:"file"`
	sound.Hearing
}

// Run listens to every file; one that cannot be read does not stop the rest.
func (c listenCmd) Run(ctx context.Context, t *terminal) error {
	var heard []heardFile
	var faults []error
	for _, file := range c.Files {
		h, err := listenTo(ctx, t, file)
		if err != nil {
			if !strings.HasPrefix(err.Error(), file) {
				err = fmt.Errorf("%s: %w", file, err)
			}
			faults = append(faults, err)
			continue
		}
		heard = append(heard, heardFile{file, h})
	}
	if c.JSON {
		if heard == nil {
			heard = []heardFile{}
		}
		return errors.Join(append(faults, t.printJSON(heard))...)
	}
	for _, h := range heard {
		if _, err := fmt.Fprint(t.out, h.text()); err != nil {
			return err
		}
		for _, w := range h.Warnings {
			t.warnf("note: %s: %s", h.File, w)
		}
	}
	return errors.Join(faults...)
}

func listenTo(ctx context.Context, t *terminal, file string) (h sound.Hearing, err error) {
	f, err := openFile(file)
	if err != nil {
		return h, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return workbench.Listen(ctx, f, workbench.ListenAsk{Progress: t.progress("listening")})
}

func (h heardFile) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s, %d Hz, %.1f s, %s\n", h.File, h.Format, h.SampleRate, float64(h.Duration), counted(len(h.Measured()), "shot"))
	for _, s := range h.Measured() {
		fmt.Fprintf(&b, "  shot %d at %.3f s, impact %s\n", s.Number, float64(s.Release), seconds(s.Impact))
		for _, m := range []struct {
			name, unit string
			sound.Measure
		}{
			{"level", "dB rel", s.Exposure}, {"peak", "dB rel", s.Peak}, {"first 5 ms' share", "", s.Attack},
			{"rings on", "dB rel", s.Late}, {"centroid", "Hz", s.Centroid}, {"early decay", "s", s.DecayEarly},
		} {
			fmt.Fprintf(&b, "    %-18s %s\n", m.name, measureText(m.Measure, m.unit))
		}
		for _, m := range s.Modes {
			fmt.Fprintf(&b, "    rings at %s, damping ratio %s\n", measureText(m.Frequency, "Hz"), measureText(m.Damping, ""))
		}
		if len(s.Modes) == 0 && s.NoModes != "" {
			fmt.Fprintf(&b, "    no ring-down mode: %s\n", s.NoModes)
		}
	}
	return b.String()
}

func seconds(d *unit.Duration) string {
	if d == nil {
		return "not heard"
	}
	return fmt.Sprintf("%.3f s", float64(*d))
}

func measureText(m sound.Measure, unit string) string {
	if !m.OK {
		return "not measurable: " + m.Why
	}
	out := fmt.Sprintf("%.3g %s", m.Value, unit)
	if m.SD > 0 {
		out += fmt.Sprintf("  ± %.1g", 1.96*m.SD)
	}
	if m.Why != "" {
		out += "  (" + m.Why + ")"
	}
	return out
}

// counted says how many: "1 shot", "2 shots".
func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
