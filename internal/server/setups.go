package server

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// setUpView is a set-up with its quantities as this person reads them.
type setUpView struct {
	SetUp notebook.SetUp   `json:"setup" doc:"The record; quantities as they were typed."`
	Shown map[string]Shown `json:"shown" doc:"Every quantity in this person's units, by JSON pointer into the settings." example:"{\"/brace_height/value\":{\"si\":0.225,\"unit\":\"m\",\"text\":\"225 mm\"}}"`
	// Changes compare it with its parent.
	Changes []notebook.Difference `json:"changes,omitempty" doc:"What changed from the set-up it was made from."`
	Beside  []notebook.ID         `json:"beside,omitempty" doc:"Set-ups of the bow that its writer had not seen: received before it, neither its parent nor settled by it. All are kept; the bow's fork shows what is still open."`
}

func viewSetUp(r notebook.SetUp, system unit.System) setUpView {
	return setUpView{SetUp: r, Shown: shownOf(r.Settings, system)}
}

// putSetUpBody is a set-up as a client writes it.
type putSetUpBody struct {
	Bow      notebook.ID       `json:"bow" doc:"The bow's id." example:"0198c2f4-7b1e-7c3a-9d52-3f6a1b2c4d5e"`
	Parent   notebook.ID       `json:"parent,omitempty" doc:"The set-up it was changed from; absent for the first."`
	Settles  []notebook.ID     `json:"settles,omitempty" doc:"Other sides of a fork that this set-up replaces: it says what the bow is set to now. See fork of GET /bows/{id}."`
	Reason   string            `json:"reason,omitempty" doc:"Why the change." example:"quieter after the brace-height trial"`
	At       time.Time         `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time."`
	Settings notebook.Settings `json:"settings" doc:"Everything set; texts with units, as typed."`
}

// putSetUpInput is a new set-up.
type putSetUpInput struct {
	IDInput
	Body written[putSetUpBody]
}

func (s *server) putSetUp(ctx context.Context, in *putSetUpInput) (*kept[setUpView], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	system := systemOf(me)
	body, faults, err := in.Body.readable(system)
	if err != nil {
		return nil, err
	}
	if len(faults) > 0 {
		more := alsoAtFault(body.Settings, belowSettings(slices.Clone(faults)))
		return nil, refuse(append(faults, under("/settings", more)...)...)
	}
	stamp, err := made(in.ID, me.ID, body.At)
	if err != nil {
		return nil, err
	}
	record := notebook.SetUp{Stamp: stamp, Bow: body.Bow, Parent: body.Parent, Settles: body.Settles, Reason: body.Reason, Settings: body.Settings}
	return s.keepSetUp(ctx, me, record)
}

// keepSetUp checks a set-up with what it refers to and stores it.
func (s *server) keepSetUp(ctx context.Context, me notebook.Person, record notebook.SetUp) (*kept[setUpView], error) {
	if err := record.Check().OrNil(); err != nil {
		return nil, err
	}
	if _, err := refers(ctx, s, s.Notebook.Bows(), "/bow", record.Bow); err != nil {
		return nil, err
	}
	var parent notebook.SetUp
	if record.Parent != "" {
		var err error
		if parent, err = refers(ctx, s, s.Notebook.SetUps(), "/parent", record.Parent); err != nil {
			return nil, err
		}
		if parent.Bow != record.Bow {
			return nil, &notebook.Error{Code: notebook.Invalid, Field: "/parent", Message: "the set-up it was made from belongs to another bow", Hint: "leave parent out for a bow's first set-up"}
		}
		record.Settings = notebook.Carry(parent.Settings, record.Settings)
	}
	if err := s.checkSettles(ctx, record); err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.SetUps(), me.ID, record)
	if err != nil {
		return nil, err
	}
	if status == http.StatusCreated {
		// A refit under way begins from the set-up before: the forecasts go first.
		fitting := s.refits.stop(stored.Bow)
		s.sealSetUp(ctx, me, stored)
		if fitting {
			s.refitBow(ctx, stored.Bow)
		}
	}
	view := viewSetUp(stored, systemOf(me))
	if record.Parent != "" {
		if view.Changes, err = notebook.Diff(parent.Settings, stored.Settings); err != nil {
			return nil, err
		}
	}
	if err := s.addBeside(ctx, &view); err != nil {
		return nil, err
	}
	return &kept[setUpView]{Status: status, Body: view}, nil
}

// checkSettles demands that what a set-up settles is there, of the same bow.
func (s *server) checkSettles(ctx context.Context, record notebook.SetUp) error {
	for i, id := range record.Settles {
		field := "/settles/" + strconv.Itoa(i)
		other, err := refers(ctx, s, s.Notebook.SetUps(), field, id)
		if err != nil {
			return err
		}
		if other.Bow != record.Bow {
			return &notebook.Error{Code: notebook.Invalid, Field: field, Message: "this set-up belongs to another bow", Hint: "name only sides of this bow's fork"}
		}
	}
	return nil
}

func (s *server) getSetUp(ctx context.Context, in *IDInput) (*found[setUpView], error) {
	record, err := fetch(ctx, s, s.Notebook.SetUps(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	view := viewSetUp(record, system)
	if record.Parent != "" {
		parent, err := fetch(ctx, s, s.Notebook.SetUps(), string(record.Parent))
		if err != nil {
			return nil, err
		}
		if view.Changes, err = notebook.Diff(parent.Settings, record.Settings); err != nil {
			return nil, err
		}
	}
	if err := s.addBeside(ctx, &view); err != nil {
		return nil, err
	}
	return &found[setUpView]{Body: view}, nil
}

// listSetUps gives a bow's history, newest first, each with what changed.
func (s *server) listSetUps(ctx context.Context, in *IDInput) (*found[rows[setUpView]], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	records, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow.ID})
	if err != nil {
		return nil, err
	}
	beside, err := s.besides(ctx, bow.ID, records)
	if err != nil {
		return nil, err
	}
	byID := map[notebook.ID]notebook.Settings{}
	out := found[rows[setUpView]]{Body: rows[setUpView]{Rows: []setUpView{}}}
	for _, r := range records {
		byID[r.ID] = r.Settings
		view := viewSetUp(r, system)
		view.Beside = beside[r.ID]
		if before, ok := byID[r.Parent]; ok && r.Parent != "" {
			if view.Changes, err = notebook.Diff(before, r.Settings); err != nil {
				return nil, err
			}
		}
		out.Body.Rows = append(out.Body.Rows, view)
	}
	slices.Reverse(out.Body.Rows)
	return &out, nil
}
