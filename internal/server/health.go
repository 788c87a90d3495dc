package server

import (
	"context"
	"net/http"

	"tautline/notebook"
)

// healthOutput says that the program lives.
type healthOutput = found[healthView]

// healthView is the program's own state.
type healthView struct {
	Status   string      `json:"status" example:"alive"`
	Version  string      `json:"version" example:"0.1.0"`
	Requests int64       `json:"requests" doc:"Answered since it started."`
	Failures int64       `json:"failures" doc:"Of these, with a fault of the program's."`
	Shed     int64       `json:"shed" doc:"Of these, refused because there was more to do than could be done."`
	Panics   int64       `json:"panics" doc:"Of these, caught panics. Any is worth a report."`
	Backup   *backupView `json:"backup,omitempty" doc:"How the automatic backups stand; missing when none are made."`
	Space    *spaceView  `json:"space,omitempty" doc:"The room on the notebook's disk, when it is less than 500 MB, or than 5 % of the disk up to 5 GB."`
}

func (s *server) getHealth(context.Context, *struct{}) (*healthOutput, error) {
	return &healthOutput{Body: healthView{"alive", s.Version, s.counts.requests.Load(), s.counts.failures.Load(), s.counts.shed.Load(), s.counts.panics.Load(), s.backups(), s.space()}}, nil
}

// readyView says whether the notebook can be used.
type readyView struct {
	Status string      `json:"status" example:"ready"`
	Write  bool        `json:"writable" doc:"False when a failed write stopped all writing."`
	Backup *backupView `json:"backup,omitempty" doc:"How the automatic backups stand; missing when none are made."`
}

// getReady reads from the notebook; a notebook that only reads is 503, as is
// one whose program is stopping.
func (s *server) getReady(ctx context.Context, _ *struct{}) (*found[readyView], error) {
	if s.Stopping != nil && s.Stopping() {
		return nil, newProblem(http.StatusServiceUnavailable, codeStarting, "The program is stopping.", "Try again in a moment.")
	}
	if s.Hanging != nil && s.Hanging() {
		return nil, newProblem(http.StatusServiceUnavailable, string(notebook.Unavailable), "Several sound files got their decoders stuck: no further recording is taken.", "Start the program again, unless that is done by itself, as for a club behind a name of its own.")
	}
	if err := s.readable(ctx); err != nil {
		return nil, err
	}
	if err := s.Notebook.Writable(); err != nil {
		return nil, err
	}
	return &found[readyView]{Body: readyView{"ready", true, s.backups()}}, nil
}

// readable reads something from the notebook.
func (s *server) readable(ctx context.Context) error {
	if s.club != nil {
		_, err := s.club.accounts.CountAccounts(ctx)
		return err
	}
	_, err := s.me(ctx)
	return err
}

// supportView is what to give to whoever helps when something is wrong.
type supportView struct {
	Text string `json:"text" doc:"Versions, counts, the schema, the state of the backups and the log's last lines; no name, login, note, reading or address. To be read before it is given away."`
}

// getSupport writes a support file. In a club it is for the owner: it tells how
// the machine is run.
func (s *server) getSupport(ctx context.Context, _ *struct{}) (*found[supportView], error) {
	if s.Support == nil {
		return nil, notOffered("This program writes no support file.", "tautline doctor --support FILE writes one.")
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	if s.club != nil && me.Role != notebook.OwnerRole {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "the support file is for the owner of the notebook", Hint: "ask the owner"}
	}
	text, err := s.Support(ctx)
	if err != nil {
		return nil, err
	}
	return &found[supportView]{Body: supportView{text}}, nil
}

// DemoLoader puts the invented demo notebook beside the person's own, and
// takes it out again without a trace.
type DemoLoader interface {
	// Loaded reports whether the demo is in the notebook.
	Loaded(ctx context.Context) (bool, error)
	// Load puts it in, written by the person whose notebook it is; a second
	// call does nothing.
	Load(ctx context.Context, owner notebook.ID) error
	// Remove takes it out; without it, it does nothing.
	Remove(ctx context.Context) error
}

// demoView says what can be done with the demo.
type demoView struct {
	Offered bool          `json:"offered" doc:"This program can load it."`
	Loaded  bool          `json:"loaded" doc:"It is in the notebook now."`
	Bows    []notebook.ID `json:"bows,omitempty" doc:"The invented bows in the notebook: whatever belongs to them is invented too."`
}

// noWishes carries no wishes; its body is an empty object.
type noWishes struct {
	Body struct{}
}

func (s *server) getDemo(ctx context.Context, _ *struct{}) (*found[demoView], error) {
	var out demoView
	bows, err := all(ctx, s, s.Notebook.Bows(), notebook.Query{})
	if err != nil {
		return nil, err
	}
	for _, b := range bows {
		if s.invented(b.ID) {
			out.Bows = append(out.Bows, b.ID)
		}
	}
	if s.Demo != nil {
		out.Offered = true
		out.Loaded, err = s.Demo.Loaded(ctx)
	}
	return &found[demoView]{Body: out}, err
}

// invented tells whether a bow is one of the demo's.
func (s *server) invented(bow notebook.ID) bool { return s.Invented != nil && s.Invented(bow) }

func (s *server) loadDemo(ctx context.Context, _ *noWishes) (*found[demoView], error) {
	if s.Demo == nil {
		return nil, notOffered("The demo is not offered by this program.", "The demo in a notebook of its own: tautline demo")
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	if err := s.Demo.Load(ctx, me.ID); err != nil {
		return nil, err
	}
	s.forget()
	return s.getDemo(ctx, nil)
}

func (s *server) removeDemo(ctx context.Context, _ *struct{}) (*found[demoView], error) {
	if s.Demo == nil {
		return nil, notOffered("The demo is not offered by this program.", "The demo in a notebook of its own: tautline demo")
	}
	if err := s.Demo.Remove(ctx); err != nil {
		return nil, err
	}
	s.forget()
	return s.getDemo(ctx, nil)
}

func notOffered(detail, hint string) *Problem {
	return newProblem(http.StatusNotImplemented, codeNotOffered, detail, hint)
}
