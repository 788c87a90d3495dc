package server

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
)

// readingKinds says how the value of each kind is typed: the name of a
// quantity, or "" for a plain number.
var readingKinds = map[notebook.Kind]string{
	notebook.ReadBrace:        "setting",
	notebook.ReadNockingPoint: "setting",
	notebook.ReadTiller:       "setting",
	notebook.ReadStringLength: "draw",
	notebook.ReadDrawLength:   "draw",
	notebook.ReadSpeed:        "speed",
	notebook.ReadDrawWeight:   "force",
	notebook.ReadDrawForce:    "force",
	notebook.ReadBareShaft:    "impact",
	notebook.ReadBareUp:       "impact",
	notebook.ReadGroupRight:   "impact",
	notebook.ReadSightMark:    "setting",
}

// readingView is a reading as this person reads it.
type readingView struct {
	Reading   notebook.Reading `json:"reading" doc:"The record; text as it was typed, value in SI."`
	Label     string           `json:"label" doc:"What was measured, in words." example:"brace height"`
	Shown     string           `json:"shown" doc:"The value in this person's units." example:"221 mm"`
	Corrected notebook.ID      `json:"corrected_by,omitempty" doc:"The later reading that replaces this one."`
}

func viewReading(r notebook.Reading, system unit.System) readingView {
	v := readingView{Reading: r, Label: string(r.Kind), Shown: report.ReadingValue(r, system)}
	if info, known := r.Kind.Info(); known {
		v.Label = info.Label
	}
	return v
}

// plainNumber prints a count.
func plainNumber(v float64, system unit.System) string { return system.Plain(v) }

// readingKind describes one kind of reading for a form.
type readingKind struct {
	Kind     notebook.Kind `json:"kind" example:"brace_height"`
	Label    string        `json:"label" example:"brace height"`
	Quantity string        `json:"quantity,omitempty" doc:"Name of the quantity, as in /units; absent for plain numbers and words." example:"setting"`
	SI       string        `json:"si,omitempty" doc:"Unit of value." example:"m"`
	Low      float64       `json:"low" doc:"Least possible value."`
	High     float64       `json:"high" doc:"Greatest possible value."`
	Words    bool          `json:"words_only,omitempty" doc:"The text is all there is."`
}

func (s *server) listKinds(context.Context, *struct{}) (*found[rows[readingKind]], error) {
	var out found[rows[readingKind]]
	for _, i := range notebook.Kinds() {
		out.Body.Rows = append(out.Body.Rows, readingKind{i.Kind, i.Label, readingKinds[i.Kind], i.SI, i.Low, i.High, i.WordsOnly})
	}
	return &out, nil
}

// putReadingInput is a reading as it was typed.
type putReadingInput struct {
	IDInput
	Body struct {
		Bow        notebook.ID     `json:"bow"`
		SetUp      notebook.ID     `json:"setup" doc:"The set-up in force."`
		Session    notebook.ID     `json:"session,omitempty"`
		Trial      notebook.ID     `json:"trial,omitempty"`
		Stop       *int            `json:"stop,omitempty" minimum:"0" maximum:"1000" doc:"Position in the trial's plan, from 0."`
		Kind       notebook.Kind   `json:"kind" doc:"As listed by /reading-kinds." example:"brace_height"`
		Text       string          `json:"text" maxLength:"8000" doc:"What was typed; a bare number is in the person's unit." example:"22.1 cm"`
		Edge       notebook.Edge   `json:"edge,omitempty" enum:"pivot,button" doc:"Reference of a brace height; default pivot."`
		Instrument string          `json:"instrument,omitempty" maxLength:"200" example:"bow square"`
		Repeat     int             `json:"repeat,omitempty" minimum:"0" maximum:"1000" doc:"1 for the first of several."`
		Arrows     int             `json:"arrows,omitempty" minimum:"0" maximum:"1000"`
		Corrects   notebook.ID     `json:"corrects,omitempty" doc:"The reading this one replaces."`
		Distance   notebook.Length `json:"distance,omitzero" doc:"Archer to target, of an offset, a group's centre or a sight mark." example:"30 m"`
		DrawLength notebook.Length `json:"draw_length,omitzero" doc:"Where a draw force was read, quoted as the set-up quotes its own." example:"24 in"`
		Shaft      notebook.Arrow  `json:"shaft,omitzero" doc:"The arrow shot, where it was not the set-up's; what is left out is as there."`
		Doubt      float64         `json:"doubt,omitempty" minimum:"0" doc:"One standard deviation of the value in SI, if known."`
		Note       string          `json:"note,omitempty"`
		At         time.Time       `json:"at,omitzero" doc:"When it was read, by the writer's clock; default the id's time."`
	}
}

func (s *server) putReading(ctx context.Context, in *putReadingInput) (*kept[readingView], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	b := in.Body
	record := notebook.Reading{
		Stamp: stamp, Bow: b.Bow, SetUp: b.SetUp, Session: b.Session, Trial: b.Trial, Stop: b.Stop, Kind: b.Kind,
		Edge: b.Edge, Instrument: b.Instrument, Repeat: b.Repeat, Arrows: b.Arrows, Corrects: b.Corrects, Note: b.Note,
		Distance: b.Distance, DrawLength: b.DrawLength, Shaft: b.Shaft, Doubt: b.Doubt,
	}
	if err := measure(&record, b.Text, systemOf(me)); err != nil {
		return nil, err
	}
	if err := s.checkReading(ctx, record); err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.Readings(), me.ID, record)
	if err != nil {
		return nil, err
	}
	if status == http.StatusCreated {
		s.refitFor(ctx, stored)
	}
	return &kept[readingView]{Status: status, Body: viewReading(stored, systemOf(me))}, nil
}

// measure reads the typed text into value and unit by the reading's kind.
func measure(r *notebook.Reading, text string, system unit.System) error {
	info, known := r.Kind.Info()
	r.Text = text
	if !known || info.WordsOnly {
		return nil // an unknown kind is refused by the record's own check
	}
	if name := readingKinds[r.Kind]; name != "" {
		v, err := kinds[name].read(system, info.Label, text)
		if err != nil {
			return refuse(unreadable("/text", err))
		}
		r.Value, r.Unit = v.SI, v.Unit
		return nil
	}
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	if err != nil {
		return refuse(FieldError{"/text", codeUnreadable, fmt.Sprintf("cannot read %q as a number", cut(text)), "write a plain number like 3"})
	}
	r.Value = v
	return nil
}

// cut keeps a pasted page out of a message.
func cut(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}

// checkReading demands that what a reading refers to exists and fits.
func (s *server) checkReading(ctx context.Context, r notebook.Reading) error {
	if err := r.Check().OrNil(); err != nil {
		return err
	}
	if _, err := refers(ctx, s, s.Notebook.Bows(), "/bow", r.Bow); err != nil {
		return err
	}
	setup, err := refers(ctx, s, s.Notebook.SetUps(), "/setup", r.SetUp)
	if err != nil {
		return err
	}
	if setup.Bow != r.Bow {
		return &notebook.Error{Code: notebook.Invalid, Field: "/setup", Message: "the set-up belongs to another bow", Hint: "use the bow's current set-up"}
	}
	if r.Session != "" {
		if _, err := refers(ctx, s, s.Notebook.Sessions(), "/session", r.Session); err != nil {
			return err
		}
	}
	if r.Trial != "" {
		if _, err := refers(ctx, s, s.Notebook.Trials(), "/trial", r.Trial); err != nil {
			return err
		}
	}
	if r.Corrects != "" {
		_, err = refers(ctx, s, s.Notebook.Readings(), "/corrects", r.Corrects)
	}
	return err
}

func (s *server) getReading(ctx context.Context, in *IDInput) (*found[readingView], error) {
	r, err := fetch(ctx, s, s.Notebook.Readings(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	return &found[readingView]{Body: viewReading(r, system)}, nil
}

func (s *server) listReadings(ctx context.Context, in *listInput) (*found[rows[readingView]], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	out, err := list(ctx, s, s.Notebook.Readings(), *in, func(r notebook.Reading) readingView { return viewReading(r, system) })
	if err != nil {
		return nil, err
	}
	markCorrected(out.Body.Rows)
	return out, nil
}

// readingsOf gives all readings of a query, corrected ones marked.
func (s *server) readingsOf(ctx context.Context, q notebook.Query) ([]readingView, error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	records, err := all(ctx, s, s.Notebook.Readings(), q)
	if err != nil {
		return nil, err
	}
	out := make([]readingView, 0, len(records))
	for _, r := range records {
		out = append(out, viewReading(r, system))
	}
	markCorrected(out)
	return out, nil
}

// markCorrected names, on each reading that was replaced, the one that did.
func markCorrected(views []readingView) {
	list := make([]notebook.Reading, len(views))
	for i, v := range views {
		list[i] = v.Reading
	}
	by := notebook.Replaced(list)
	for i := range views {
		views[i].Corrected = by[views[i].Reading.ID]
	}
}
