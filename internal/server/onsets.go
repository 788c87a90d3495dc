package server

import (
	"context"
	"fmt"
	"time"

	"tautline/notebook"
)

// putOnsetsInput is what a person moved, added or struck out on a recording's
// waveform, and what its shots belong to.
type putOnsetsInput struct {
	IDInput
	Body struct {
		Recording   notebook.ID                `json:"recording"`
		Corrections []notebook.OnsetCorrection `json:"corrections,omitempty" nullable:"false" doc:"All corrections that are to stand, not only new ones; none puts back what was found."`
		Ties        []notebook.Tie             `json:"ties,omitempty" nullable:"false" doc:"What shots belong to, each by the second of its release."`
		Note        string                     `json:"note,omitempty" maxLength:"8000"`
		At          time.Time                  `json:"at,omitzero" doc:"When, by the writer's clock; default the id's time. The latest counts."`
	}
}

func (s *server) putOnsets(ctx context.Context, in *putOnsetsInput) (*kept[notebook.Onsets], error) {
	me, stamp, err := s.stamped(ctx, in.ID, in.Body.At)
	if err != nil {
		return nil, err
	}
	b := in.Body
	record := notebook.Onsets{Stamp: stamp, Recording: b.Recording, Corrections: b.Corrections, Ties: b.Ties, Note: b.Note}
	if record.Corrections == nil {
		record.Corrections = []notebook.OnsetCorrection{}
	}
	if err := record.Check().OrNil(); err != nil {
		return nil, err
	}
	if _, err := refers(ctx, s, s.Notebook.Recordings(), "/recording", b.Recording); err != nil {
		return nil, err
	}
	for i, t := range b.Ties {
		if t.Reading == "" {
			continue
		}
		if _, err := refers(ctx, s, s.Notebook.Readings(), fmt.Sprintf("/ties/%d/reading", i), t.Reading); err != nil {
			return nil, err
		}
	}
	stored, status, err := keep(ctx, s.Notebook.Onsets(), me.ID, record)
	if err != nil {
		return nil, err
	}
	return &kept[notebook.Onsets]{Status: status, Body: stored}, nil
}

// listOnsets lists every correction of a recording, oldest first: nothing that
// was ever put right is lost.
func (s *server) listOnsets(ctx context.Context, in *IDInput) (*found[rows[notebook.Onsets]], error) {
	r, err := fetch(ctx, s, s.Notebook.Recordings(), in.ID)
	if err != nil {
		return nil, err
	}
	list, err := all(ctx, s, s.Notebook.Onsets(), notebook.Query{Recording: r.ID})
	if err != nil {
		return nil, err
	}
	return &found[rows[notebook.Onsets]]{Body: rows[notebook.Onsets]{Rows: append([]notebook.Onsets{}, list...)}}, nil
}

// onsetsOf gathers the corrections of some recordings.
func (s *server) onsetsOf(ctx context.Context, recordings []notebook.Recording) (out []notebook.Onsets, err error) {
	for _, r := range recordings {
		list, err := all(ctx, s, s.Notebook.Onsets(), notebook.Query{Recording: r.ID})
		if err != nil {
			return nil, err
		}
		out = append(out, list...)
	}
	return out, nil
}
