package server

import (
	"context"
	"slices"
	"strings"

	"tautline/notebook"
	"tautline/unit"
)

// checkBody is what is checked before it is stored.
type checkBody struct {
	Parent   notebook.ID       `json:"parent,omitempty" doc:"The set-up it would be changed from; shows what changes."`
	Settings notebook.Settings `json:"settings"`
	Preview  bool              `json:"preview,omitempty" doc:"Predict too; takes about a tenth of a second."`
}

// checkInput is the request.
type checkInput struct {
	Body written[checkBody]
}

// checkView says whether settings can stand, and what they would do. It is an
// answer, not a refusal: a form asks while it is being filled in.
type checkView struct {
	OK        bool                  `json:"ok" doc:"The settings could be stored."`
	Errors    []FieldError          `json:"errors" nullable:"false" doc:"Every field at fault, by JSON pointer into the settings."`
	Shown     map[string]Shown      `json:"shown" doc:"What was understood, by JSON pointer, in this person's units."`
	Changes   []notebook.Difference `json:"changes" nullable:"false" doc:"Against the parent."`
	Brace     *braceState           `json:"brace,omitempty" doc:"Brace height against the limb maker's range."`
	Preview   *predictView          `json:"preview,omitempty" doc:"The prediction, where asked for and possible."`
	NoPreview string                `json:"no_preview,omitempty" doc:"Why there is no prediction."`
}

func (s *server) checkSetUp(ctx context.Context, in *checkInput) (*found[checkView], error) {
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	view := checkView{Errors: []FieldError{}, Shown: map[string]Shown{}, Changes: []notebook.Difference{}}
	body, faults, err := in.Body.readable(system)
	if err != nil {
		return nil, err
	}
	if faults = belowSettings(faults); len(faults) > 0 {
		view.Errors = append(faults, alsoAtFault(body.Settings, faults)...)
		return &found[checkView]{Body: view}, nil
	}
	if body.Parent != "" {
		parent, err := refers(ctx, s, s.Notebook.SetUps(), "/parent", body.Parent)
		if err != nil {
			return nil, err
		}
		body.Settings = notebook.Carry(parent.Settings, body.Settings)
	}
	if problems := body.Settings.Check(); len(problems) > 0 {
		view.Errors = ofProblems(problems).Errors
	}
	view.OK = len(view.Errors) == 0
	view.Shown = shownOf(body.Settings, system)
	state := braceOf(&setUpView{SetUp: notebook.SetUp{Settings: body.Settings}}, nil, system)
	view.Brace = &state
	if body.Parent != "" {
		if err := s.compareWith(ctx, &view, body); err != nil {
			return nil, err
		}
	}
	if body.Preview && view.OK {
		if err := s.preview(ctx, &view, body.Settings, system); err != nil {
			return nil, err
		}
	}
	return &found[checkView]{Body: view}, nil
}

// belowSettings makes pointers into the settings of pointers into the body.
func belowSettings(errs []FieldError) []FieldError {
	const prefix = "/settings"
	for i := range errs {
		if len(errs[i].Field) > len(prefix) && errs[i].Field[:len(prefix)] == prefix {
			errs[i].Field = errs[i].Field[len(prefix):]
		}
	}
	return errs
}

// alsoAtFault gives what is at fault in settings beside what could not be read,
// so that a form is put right in one go.
func alsoAtFault(settings notebook.Settings, unreadable []FieldError) (more []FieldError) {
	at := make([]string, len(unreadable))
	for i, e := range unreadable {
		if at[i] = e.Field; e.Field == "" || e.Field == "/settings" {
			return nil // none of the settings was read
		}
	}
	for _, p := range settings.CheckBut(at...) {
		if !slices.ContainsFunc(at, func(field string) bool { return field == p.Field || strings.HasPrefix(p.Field, field+"/") }) {
			more = append(more, FieldError{p.Field, string(p.Code), p.Message, p.Hint})
		}
	}
	return more
}

func (s *server) compareWith(ctx context.Context, view *checkView, body checkBody) error {
	parent, err := refers(ctx, s, s.Notebook.SetUps(), "/parent", body.Parent)
	if err != nil {
		return err
	}
	changes, err := notebook.Diff(parent.Settings, body.Settings)
	view.Changes = append(view.Changes, changes...)
	return err
}

// preview predicts; what the model needs and the notebook does not is said in
// words.
func (s *server) preview(ctx context.Context, view *checkView, settings notebook.Settings, system unit.System) error {
	prediction, err := s.predictSettings(ctx, settings, system)
	if err != nil && ctx.Err() == nil {
		p := s.explain(ctx, err)
		if p.Status >= 500 {
			return err
		}
		view.NoPreview = p.Detail
		if p.Hint != "" {
			view.NoPreview += " (" + p.Hint + ")"
		}
		return nil
	}
	view.Preview = prediction
	return err
}
