package server

import (
	"context"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"tautline/notebook"
)

// belongingsView is what of the notebook is one person's.
type belongingsView struct {
	Person  notebook.ID           `json:"person"`
	Name    string                `json:"name" example:"Ben Osei"`
	Records map[notebook.Noun]int `json:"records" doc:"Records by noun: the person's bows with all that was written on them, and what they wrote of no bow." example:"{\"bow\":2,\"reading\":118}"`
	Erase   bool                  `json:"may_be_erased" doc:"False for the last owner of the notebook."`
}

// leaver is the person who goes, if the visitor may decide it.
func (s *server) leaver(ctx context.Context, id string) (notebook.Person, error) {
	p, err := fetch(ctx, s, s.Notebook.People(), id)
	if err != nil {
		return p, err
	}
	me, err := s.me(ctx)
	if err == nil && me.ID != p.ID && me.Role != notebook.OwnerRole {
		err = &notebook.Error{Code: notebook.NotAllowed, Message: "you may not decide that another goes", Hint: "everyone does it for themselves, or the owner of the notebook does"}
	}
	return p, err
}

func (s *server) getBelongings(ctx context.Context, in *IDInput) (*found[belongingsView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	p, err := s.leaver(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	records, err := s.club.accounts.Belongings(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	last, err := s.lastOwner(ctx, p)
	return &found[belongingsView]{Body: belongingsView{p.ID, p.Name, records, !last}}, err
}

// lastOwner reports the only person who lets others in.
func (s *server) lastOwner(ctx context.Context, p notebook.Person) (bool, error) {
	if p.Role != notebook.OwnerRole || p.Disabled {
		return false, nil
	}
	everyone, err := all(ctx, s, s.Notebook.People(), notebook.Query{})
	for _, x := range everyone {
		if x.ID != p.ID && x.Role == notebook.OwnerRole && !x.Disabled {
			return false, err
		}
	}
	return true, err
}

// takeAlong answers with everything of the visitor's as an export.
func (s *server) takeAlong(ctx context.Context, _ *struct{}) (*fileOutput, error) {
	a, err := s.myAccount(ctx, confirmed)
	if err != nil {
		return nil, err
	}
	return s.attachment("my-notebook.zip", "application/zip", func(ctx context.Context, w http.ResponseWriter) error {
		return s.club.accounts.ExportPerson(ctx, a.Person, w)
	}), nil
}

// attachment is a file for saving that is written as it is made, so that any
// size of it takes no memory. What fails before its first byte is told as
// everywhere; later the connection is broken off.
func (s *server) attachment(name, kind string, write func(context.Context, http.ResponseWriter) error) *fileOutput {
	return &fileOutput{func(c huma.Context) {
		r, held := humago.Unwrap(c)
		setWriteDeadline(held, s.Now().Add(downloadTime))
		h := held.Header()
		h.Set("Content-Type", kind)
		h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
		w := &onTheWay{ResponseWriter: held}
		stepAside(r.Context()) // it may take long, and costs little
		if r.Method == http.MethodHead {
			w.begin()
			return
		}
		err := write(r.Context(), w)
		switch {
		case err == nil:
			w.begin() // of nothing, too
		case !w.begun:
			h.Del("Content-Disposition")
			writeProblem(held, r, s.problem(r.Context(), err))
		default:
			s.Log.Error("writing a file for saving", "file", name, "error", err)
			panic(http.ErrAbortHandler) // nobody must take half a file for a whole one
		}
	}}
}

// onTheWay is an answer that is sent as it is written, from its first byte on.
type onTheWay struct {
	http.ResponseWriter
	begun bool
}

func (w *onTheWay) begin() {
	if !w.begun {
		w.begun, w.ResponseWriter = true, streamed(w.ResponseWriter)
	}
}

func (w *onTheWay) Write(b []byte) (int, error) {
	w.begin()
	return w.ResponseWriter.Write(b)
}

// FlushError sends what was written.
func (w *onTheWay) FlushError() error {
	w.begin()
	return http.NewResponseController(w.ResponseWriter).Flush()
}

// zipAnswer documents an export.
func zipAnswer(op *huma.Operation) {
	op.Responses = map[string]*huma.Response{"200": {Description: "An export like that of tautline export, as a zip; streamed",
		Content: map[string]*huma.MediaType{"application/zip": {Schema: &huma.Schema{Type: "string", Format: "binary"}}}}}
}

// erasureInput says the name of who goes, so that it is no slip.
type erasureInput struct {
	IDInput
	Body struct {
		Name string `json:"name" maxLength:"200" doc:"The person's name as it stands in the notebook." example:"Ben Osei"`
	}
}

// erase takes a person out of the notebook at once: themselves, or by the
// owner. There is no way back but an export made before.
func (s *server) erase(ctx context.Context, in *erasureInput) (*found[notebook.Erasure], error) {
	if _, err := s.myAccount(ctx, confirmed); err != nil {
		return nil, err
	}
	p, err := s.leaver(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	if !strings.EqualFold(strings.Join(strings.Fields(in.Body.Name), " "), strings.Join(strings.Fields(p.Name), " ")) {
		return nil, refuse(FieldError{"/name", codeInvalid, "this is not the name of who would be erased", "type it as it stands in the notebook"})
	}
	last, err := s.lastOwner(ctx, p)
	if err != nil {
		return nil, err
	}
	if last {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "the last owner of a notebook cannot leave it", Hint: "make someone else owner first"}
	}
	out, err := s.club.accounts.Erase(ctx, p.ID)
	s.forget()
	if err != nil {
		return nil, err
	}
	if visitorOf(ctx).person == p.ID {
		err = s.club.sessions.Destroy(ctx)
	}
	return &found[notebook.Erasure]{Body: out}, err
}
