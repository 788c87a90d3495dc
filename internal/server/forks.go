package server

import (
	"context"
	"slices"
	"time"

	"tautline/notebook"
)

// forkView is where two or more people changed the same set-up without knowing
// of each other. All sides are kept, the one received last is taken for current,
// and someone is to say what the bow is set to now.
type forkView struct {
	Base    notebook.ID        `json:"base,omitempty" doc:"The set-up that all sides come from; absent when there is none."`
	Sides   []forkSide         `json:"sides" nullable:"false" doc:"Oldest received first; the last is taken for current until someone chooses."`
	Merged  *notebook.Settings `json:"merged,omitempty" doc:"The current side with the other sides' changes in it, where they touch other entries; absent when it would be the current side itself."`
	Clashes []clashView        `json:"clashes" nullable:"false" doc:"Entries that sides changed to different values; merged has the last side's."`
	Ask     string             `json:"ask" doc:"The question, in a sentence."`
}

// forkSide is one of the set-ups that stand beside each other.
type forkSide struct {
	SetUp    notebook.ID           `json:"setup" doc:"Its id."`
	By       notebook.ID           `json:"by" doc:"Who wrote it."`
	Name     string                `json:"by_name,omitempty" doc:"Their name, if you may see it."`
	At       time.Time             `json:"at" doc:"When it was written, by the writer's clock."`
	Received time.Time             `json:"received" doc:"When it reached the notebook."`
	Reason   string                `json:"reason"`
	Changes  []notebook.Difference `json:"changes" nullable:"false" doc:"From the base, or all of it without one."`
}

// clashView is an entry in which sides differ.
type clashView struct {
	Key   string   `json:"key" example:"brace_height.value"`
	Label string   `json:"label" example:"brace height"`
	Texts []string `json:"texts" nullable:"false" doc:"By side; empty where a side no longer notes it."`
}

// forkOf looks whether a bow's set-ups went apart; nil when they did not.
// Visible are those in sight: only when they leave more than one open are the
// hidden ones looked at too, since one may link two of them.
func (s *server) forkOf(ctx context.Context, bow notebook.ID, visible []notebook.SetUp) (*forkView, error) {
	if len(notebook.Heads(visible, nil)) < 2 {
		return nil, nil
	}
	every, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow, Retracted: true})
	if err != nil {
		return nil, err
	}
	fork, ok := notebook.FindFork(every, hiddenOf(every, visible))
	if !ok {
		return nil, nil
	}
	return s.viewFork(ctx, fork, every)
}

// hiddenOf names the records that are out of sight.
func hiddenOf(every, visible []notebook.SetUp) map[notebook.ID]bool {
	hidden := map[notebook.ID]bool{}
	for _, x := range every {
		hidden[x.ID] = true
	}
	for _, x := range visible {
		delete(hidden, x.ID)
	}
	return hidden
}

func (s *server) viewFork(ctx context.Context, fork notebook.Fork, every []notebook.SetUp) (*forkView, error) {
	v := &forkView{Base: fork.Base, Clashes: []clashView{}, Ask: "Two changes were made to the same set-up: which is the bow set to now?"}
	var base notebook.Settings
	if at := slices.IndexFunc(every, func(x notebook.SetUp) bool { return x.ID == fork.Base }); at >= 0 {
		base = every[at].Settings
	}
	var sides []notebook.Settings
	for _, h := range fork.Heads {
		changes, err := notebook.Diff(base, h.Settings)
		if err != nil {
			return nil, err
		}
		side := forkSide{SetUp: h.ID, By: h.By, At: h.At, Received: h.Received, Reason: h.Reason, Changes: append([]notebook.Difference{}, changes...)}
		if side.Name, err = s.nameOf(ctx, h.By); err != nil {
			return nil, err
		}
		v.Sides, sides = append(v.Sides, side), append(sides, h.Settings)
	}
	merged, clashes, err := notebook.Merge(base, sides)
	if err != nil {
		return nil, err
	}
	for _, c := range clashes {
		v.Clashes = append(v.Clashes, clashView{c.Key, notebook.Label(c.Key), c.Texts})
	}
	if more, err := notebook.Diff(sides[len(sides)-1], merged); err != nil {
		return nil, err
	} else if len(more) > 0 {
		v.Merged = &merged
	}
	return v, nil
}

// nameOf is a person's name, empty for who may not be seen.
func (s *server) nameOf(ctx context.Context, id notebook.ID) (string, error) {
	p, err := fetch(ctx, s, s.Notebook.People(), string(id))
	if notebook.CodeOf(err) == notebook.NotFound {
		return "", nil
	}
	return p.Name, err
}

// besides gives, for each set-up of a bow, the others in sight that stood open
// when it was received: what its writer had not seen.
func (s *server) besides(ctx context.Context, bow notebook.ID, visible []notebook.SetUp) (map[notebook.ID][]notebook.ID, error) {
	if inOneLine(visible) {
		return nil, nil
	}
	every, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow, Retracted: true})
	if err != nil {
		return nil, err
	}
	hidden := hiddenOf(every, visible)
	out := map[notebook.ID][]notebook.ID{}
	var open []notebook.ID
	for _, x := range every {
		open = slices.DeleteFunc(open, func(id notebook.ID) bool { return id == x.Parent || slices.Contains(x.Settles, id) })
		for _, id := range open {
			if !hidden[id] {
				out[x.ID] = append(out[x.ID], id)
			}
		}
		open = append(open, x.ID)
	}
	return out, nil
}

// inOneLine reports whether each set-up was made from the one before it.
func inOneLine(setups []notebook.SetUp) bool {
	for i := 1; i < len(setups); i++ {
		if setups[i].Parent != setups[i-1].ID {
			return false
		}
	}
	return true
}

// addBeside says which set-ups the writer of this one had not seen.
func (s *server) addBeside(ctx context.Context, v *setUpView) error {
	visible, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: v.SetUp.Bow})
	if err != nil {
		return err
	}
	beside, err := s.besides(ctx, v.SetUp.Bow, visible)
	v.Beside = beside[v.SetUp.ID]
	return err
}
