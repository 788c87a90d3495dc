package server

import (
	"context"

	"tautline/internal/figure"
	"tautline/internal/report"
	"tautline/notebook"
	"tautline/workbench"
)

// explainView is what the brace height does on one bow.
type explainView struct {
	Progress
	Topics   []explainTopic `json:"topics" nullable:"false"`
	Notes    []string       `json:"notes" nullable:"false"`
	Cautions []string       `json:"cautions" nullable:"false"`
}

// explainTopic is one thing that it does.
type explainTopic struct {
	Key    string         `json:"key" enum:"speed,time,bend,left,forgiveness"`
	Title  string         `json:"title"`
	Text   string         `json:"text"`
	Figure *figure.Figure `json:"figure,omitempty"`
	Why    string         `json:"why,omitempty" doc:"Why there is nothing to say."`
}

func (s *server) getExplanation(ctx context.Context, in *IDInput) (*found[explainView], error) {
	setup, err := fetch(ctx, s, s.Notebook.SetUps(), in.ID)
	if err != nil {
		return nil, err
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	drawn, err := s.handOf(ctx, setup.Bow)
	if err != nil {
		return nil, err
	}
	f, about, how, err := s.fitted(ctx, setup.Bow)
	if err != nil {
		return nil, err
	}
	var e workbench.Explanation
	if how.State == "done" {
		if e, how, err = s.explainFitted(ctx, setup, drawn, f, about.inputs); err != nil {
			return nil, noPrediction(ctx, err)
		}
		how.Share = 0.3 + 0.7*how.Share
	} else {
		how.Share *= 0.3
	}
	system := systemOf(me)
	view := explainView{Progress: how, Topics: []explainTopic{}, Notes: saidAll(e.Notes, system), Cautions: cautions}
	figures := report.ExplainFigures(e, setup.Settings, system)
	for _, t := range e.Topics {
		topic := explainTopic{Key: t.Key, Title: t.Title, Text: said(t.Text, system), Why: said(t.Why, system)}
		if f, ok := figures[t.Key]; ok {
			topic.Figure = &f
		}
		view.Topics = append(view.Topics, topic)
	}
	return &found[explainView]{Body: view}, nil
}

// explainFitted computes the page from the fitted bow, and what the brace height
// forgives.
func (s *server) explainFitted(ctx context.Context, setup notebook.SetUp, drawn notebook.Hand, f *workbench.FittedBow, inputs string) (workbench.Explanation, Progress, error) {
	hand := workbench.HandOf(drawn)
	return background(ctx, s, "explain "+string(setup.ID)+inputs+string(drawn), inTurn(s, func(ctx context.Context, tell func(float64)) (workbench.Explanation, error) {
		e, err := f.Explain(ctx, setup.Settings, hand, func(share float64) { tell(0.3 * share) })
		if err == nil {
			e.Topics = append(e.Topics, workbench.ExplainForgiveness(ctx, setup.Settings, hand, func(share float64) { tell(0.3 + 0.7*share) }))
			err = ctx.Err()
		}
		return e, err
	}))
}
