package server

import (
	"context"
	"strings"
	"time"
	"unicode/utf8"

	"tautline/notebook"
)

// loginInput is a person at the door.
type loginInput struct {
	Body struct {
		Login    string `json:"login" maxLength:"200" example:"ida"`
		Password string `json:"password" maxLength:"2000" doc:"As chosen, unchanged." example:"four words nobody puts together"`
		Code     string `json:"code,omitempty" maxLength:"100" doc:"Of the second factor, for who has one: asked for by a problem with code second-factor." example:"123456"`
	}
}

// accountView is who is logged in.
type accountView struct {
	Accounts bool            `json:"accounts" doc:"False: one person's notebook, without login."`
	Person   notebook.ID     `json:"person,omitempty" doc:"Absent: not logged in."`
	Login    string          `json:"login,omitempty" example:"ida"`
	Role     notebook.Role   `json:"role,omitempty" enum:",owner,coach,archer,viewer"`
	Factor   bool            `json:"second_factor,omitempty" doc:"A second factor is asked for at login."`
	Printed  int             `json:"printed_codes,omitempty" doc:"How many printed codes were not used yet."`
	Lacks    bool            `json:"needs_second_factor,omitempty" doc:"Nothing else goes on before a second factor is set up: an owner of a notebook of several people, or everyone where the club asks for it."`
	Due      time.Time       `json:"second_factor_due,omitzero" doc:"Without one: when it will be needed."`
	Sessions []sessionListed `json:"sessions" nullable:"false" doc:"Where this person is logged in."`
}

// fold is a login as it is kept and looked for. No text in PostgreSQL holds a
// zero byte: with one it is a login that nobody has.
func fold(login string) string {
	return strings.ReplaceAll(strings.ToLower(strings.TrimSpace(login)), "\x00", "\uFFFD")
}

// noAccounts refuses what only a club has.
func (s *server) noAccounts() error {
	if s.club == nil {
		return notOffered("This notebook has no accounts: it is one person's, on this machine.", "Start it with: tautline serve --accounts")
	}
	return nil
}

// logIn lets a person in. An unknown login and a wrong password are answered
// alike, after the same time.
func (s *server) logIn(ctx context.Context, in *loginInput) (*found[accountView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	try, err := s.knock(ctx, in.Body.Login)
	if err != nil {
		return nil, err
	}
	right, err := s.passes(ctx, try, in.Body.Password)
	if err != nil {
		return nil, err
	}
	switch factor := try.account.Factor.Secret != ""; {
	case !right || try.closed && !factor: // where it is closed, nothing says which half was wrong
		return nil, s.wrong(try)
	case factor && !try.closed && strings.TrimSpace(in.Body.Code) == "":
		return nil, askCode()
	}
	if err := s.stillIn(ctx, try); err != nil { // before the code is used up
		return nil, err
	}
	if right, err = s.second(ctx, try.account, in.Body.Code); err != nil {
		return nil, err
	}
	if !right {
		return nil, s.wrong(try)
	}
	return s.welcome(ctx, try)
}

// stillIn refuses a person who was put out, as a wrong password.
func (s *server) stillIn(ctx context.Context, try attempt) error {
	p, err := s.Notebook.People().Get(ctx, try.account.Person, try.account.Person)
	switch {
	case err != nil && notebook.CodeOf(err) != notebook.NotFound:
		return err
	case err != nil || p.Disabled:
		return s.wrong(try)
	}
	return nil
}

// welcome begins a session.
func (s *server) welcome(ctx context.Context, try attempt) (*found[accountView], error) {
	person := try.account.Person
	s.club.throttle.forgive(try.pace)
	if err := s.club.guesses.forgive(ctx, try.account); err != nil {
		return nil, err
	}
	if err := s.begin(ctx, person); err != nil {
		return nil, err
	}
	return s.viewAccount(ctx, person)
}

func (s *server) getAccount(ctx context.Context, _ *struct{}) (*found[accountView], error) {
	if s.club == nil {
		return &found[accountView]{Body: accountView{Sessions: []sessionListed{}}}, nil
	}
	return s.viewAccount(ctx, visitorOf(ctx).person)
}

func (s *server) viewAccount(ctx context.Context, person notebook.ID) (*found[accountView], error) {
	out := &found[accountView]{Body: accountView{Accounts: true, Sessions: []sessionListed{}}}
	if person == "" {
		return out, nil
	}
	a, err := s.club.accounts.AccountOf(ctx, person)
	if err != nil {
		return nil, err
	}
	p, err := s.Notebook.People().Get(ctx, person, person)
	if err != nil {
		return nil, err
	}
	if out.Body.Sessions, err = s.places(ctx, a); err != nil {
		return nil, err
	}
	out.Body.Person, out.Body.Login, out.Body.Role = person, a.Login, p.Role
	out.Body.Factor, out.Body.Printed = a.Factor.Secret != "", len(a.Factor.Printed)
	if s.asksFactor(p) && !out.Body.Factor {
		out.Body.Lacks, out.Body.Due = s.needsFactor(ctx, p, a), a.Made.Add(ownerGrace)
	}
	return out, nil
}

// done answers what leaves nothing to show.
type done struct {
	Body struct {
		Done bool `json:"done"`
	}
}

func wasDone() *done {
	d := &done{}
	d.Body.Done = true
	return d
}

func (s *server) logOut(ctx context.Context, _ *noWishes) (*done, error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	return wasDone(), s.club.sessions.Destroy(ctx)
}

// logOutEverywhere ends every session and token of the person.
func (s *server) logOutEverywhere(ctx context.Context, _ *noWishes) (*done, error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	if err := s.endSessions(ctx, visitorOf(ctx).person, func(*notebook.Account) {}); err != nil {
		return nil, err
	}
	return wasDone(), s.club.sessions.Destroy(ctx)
}

// endSessions changes an account so that what was begun before now is ended.
func (s *server) endSessions(ctx context.Context, person notebook.ID, change func(*notebook.Account)) error {
	_, err := s.club.accounts.ChangeAccount(ctx, person, func(a *notebook.Account) bool {
		change(a)
		a.Since = s.Now().UTC()
		return true
	})
	if err != nil {
		return err
	}
	for _, kind := range []notebook.CredentialKind{notebook.SessionCredential, notebook.TokenCredential, notebook.UsedCredential} {
		if err := s.club.accounts.DropCredentials(ctx, kind, person); err != nil {
			return err
		}
	}
	return nil
}

// passwordInput changes one's own password.
type passwordInput struct {
	Body struct {
		Old      string `json:"old" maxLength:"2000"`
		Password string `json:"password" maxLength:"2000" doc:"15 to 256 characters, any." example:"four words nobody puts together"`
	}
}

// changePassword ends all other sessions.
func (s *server) changePassword(ctx context.Context, in *passwordInput) (*found[accountView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	a, err := s.club.accounts.AccountOf(ctx, me.ID)
	if err != nil {
		return nil, err
	}
	if err := s.saysPassword(ctx, a, in.Body.Old, FieldError{"/old", codeInvalid, "this is not your present password", "type it again"}); err != nil {
		return nil, err
	}
	least := shortestPassword
	if a.Factor.Secret != "" {
		least = shortestWithFactor
	}
	if err := checkPassword(in.Body.Password, least, a.Login, me.Name); err != nil {
		return nil, err
	}
	short := utf8.RuneCountInString(in.Body.Password) < shortestPassword
	hash, err := s.club.hasher.hash(ctx, in.Body.Password)
	if err != nil {
		return nil, err
	}
	if err := s.endSessions(ctx, me.ID, func(a *notebook.Account) { a.Hash, a.Factor.Short = hash, short }); err != nil {
		return nil, err
	}
	if err := s.begin(ctx, me.ID); err != nil {
		return nil, err
	}
	return s.viewAccount(ctx, me.ID)
}

func visitorOf(ctx context.Context) visitor {
	who, _ := ctx.Value(visitorKey{}).(visitor)
	return who
}
