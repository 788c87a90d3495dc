package server

import (
	"context"

	"tautline/notebook"
	"tautline/workbench"
)

// putBackView is the way from a bow as it now reads to one of its set-ups.
type putBackView struct {
	SetUp    notebook.ID      `json:"setup" doc:"The set-up to put back."`
	Bow      notebook.ID      `json:"bow"`
	Reason   string           `json:"reason" example:"indoor, shot in"`
	Now      notebook.ID      `json:"now" doc:"The bow's present set-up."`
	Steps    []putBackStep    `json:"steps" nullable:"false" doc:"In this order: what an earlier one moves spoils the later. Empty: the bow stands so."`
	Noted    []differenceView `json:"noted" nullable:"false" doc:"Differs as noted, first now, second then; nothing to set."`
	After    []string         `json:"after" nullable:"false" doc:"What to check once all is set."`
	Cautions []string         `json:"cautions" nullable:"false"`
	Sheet    string           `json:"sheet" doc:"The same to print."`
}

type putBackStep struct {
	Part    string          `json:"part" example:"Limb bolts"`
	Do      string          `json:"do"`
	Tool    string          `json:"tool" example:"hex key, stringer"`
	Changes []putBackChange `json:"changes" nullable:"false"`
}

type putBackChange struct {
	Key   string `json:"key" example:"riser.bolts_upper_turns"`
	Label string `json:"label" example:"upper limb bolt, turns"`
	From  string `json:"from,omitempty" doc:"As the bow now reads; absent when it is not noted."`
	To    string `json:"to"`
	By    string `json:"by,omitempty" doc:"How far, where both are numbers." example:"+1 turn"`
}

func (s *server) getPutBack(ctx context.Context, in *IDInput) (*found[putBackView], error) {
	to, err := fetch(ctx, s, s.Notebook.SetUps(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	var b workbench.BowRecords
	if b.SetUps, err = all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: to.Bow}); err != nil {
		return nil, err
	}
	if b.Readings, err = all(ctx, s, s.Notebook.Readings(), notebook.Query{Bow: to.Bow}); err != nil {
		return nil, err
	}
	hand, err := s.handOf(ctx, to.Bow)
	if err != nil {
		return nil, err
	}
	p := b.PutBackTo(to, hand)
	view := putBackView{
		SetUp: to.ID, Bow: to.Bow, Reason: to.Reason, Now: b.SetUps[len(b.SetUps)-1].ID, Steps: []putBackStep{}, Noted: []differenceView{},
		After: someText(p.After), Cautions: targetCautions, Sheet: "/sheets/putback/" + string(to.ID),
	}
	for _, st := range p.Steps {
		step := putBackStep{Part: st.Part, Do: st.Do, Tool: st.Tool}
		for i, c := range st.Changes {
			step.Changes = append(step.Changes, putBackChange{c.Key, c.Label(), c.Before, c.After, st.Says(i, system)})
		}
		view.Steps = append(view.Steps, step)
	}
	for _, d := range p.Noted {
		view.Noted = append(view.Noted, differenceView{Key: d.Key, Label: d.Label(), First: d.Before, Second: d.After})
	}
	return &found[putBackView]{Body: view}, nil
}
