package server

import (
	"context"
	"net/http"

	"tautline/notebook"
)

// recoverInput is a person who lost the password and kept the code.
type recoverInput struct {
	Body struct {
		Login    string `json:"login" maxLength:"100" example:"ben"`
		Code     string `json:"code" maxLength:"100" doc:"The printed recovery code."`
		Second   string `json:"second,omitempty" maxLength:"100" doc:"The code of the second factor, for who has one."`
		Password string `json:"password" maxLength:"2000" doc:"The new one: 15 to 256 characters, any." example:"four words nobody puts together"`
	}
}

// recoverAccount replaces the password and uses the code up; a new one is given.
func (s *server) recoverAccount(ctx context.Context, in *recoverInput) (*found[joinedView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	by := proof{secret: plainCode(in.Body.Code), login: fold(in.Body.Login), password: in.Body.Password, second: in.Body.Second}
	out, err := s.recoverBy(ctx, by)
	if notebook.CodeOf(err) == notebook.NotFound {
		return nil, newProblem(http.StatusUnauthorized, codeLogin, "Login and recovery code do not fit together.", "Check the letters; or ask the owner of the notebook for a new link.")
	}
	return out, err
}

// recoverBy uses the code, or goes on where its answer was lost. Sent twice at
// once, the later one finds it used by the other.
func (s *server) recoverBy(ctx context.Context, by proof) (*found[joinedView], error) {
	was, err := s.usedBy(ctx, by)
	if notebook.CodeOf(err) == notebook.NotFound {
		out, first := s.recoverFirst(ctx, by)
		if notebook.CodeOf(first) != notebook.NotFound {
			return out, first
		}
		was, err = s.usedBy(ctx, by)
	}
	if err != nil {
		return nil, err
	}
	return s.admitAgain(ctx, was, by)
}

// recoverFirst uses the code up, at the pace of logins.
func (s *server) recoverFirst(ctx context.Context, by proof) (out *found[joinedView], err error) {
	pace := paceOf(visitorOf(ctx).net, by.login)
	if err := s.mayTry(visitorOf(ctx).net, pace); err != nil {
		return nil, err
	}
	defer func() {
		if notebook.CodeOf(err) == notebook.NotFound {
			s.club.throttle.failed(pace, s.Now())
		}
	}()
	link, err := s.club.accounts.CredentialBy(ctx, notebook.RecoveryCredential, hashOf(by.secret), s.Now())
	if err != nil {
		return nil, err
	}
	a, err := s.club.accounts.AccountOf(ctx, link.Person)
	switch {
	case err != nil:
		return nil, err
	case a.Login != by.login:
		return nil, noLink()
	}
	p, err := s.Notebook.People().Get(ctx, link.Person, link.Person)
	switch code := notebook.CodeOf(err); {
	case err != nil && code != notebook.NotFound && code != notebook.NotAllowed:
		return nil, err
	case err != nil:
		return nil, newProblem(http.StatusUnauthorized, codeLogin, "This person is no longer let in.", "Ask the owner of the notebook.")
	}
	if err := checkPassword(by.password, shortestPassword, by.login, p.Name); err != nil { // before a code of the second factor is used up for nothing
		return nil, err
	}
	right, err := s.second(ctx, a, by.second)
	if err != nil {
		return nil, err
	}
	if !right {
		s.club.throttle.failed(pace, s.Now())
		return nil, askCode()
	}
	if a, err = s.club.accounts.AccountOf(ctx, link.Person); err != nil { // as it is after the code was used
		return nil, err
	}
	if out, err = s.admit(ctx, link, p, a, by); err != nil {
		return nil, err
	}
	return out, s.club.accounts.DropCredentials(ctx, notebook.SessionCredential, p.ID) // the new one is kept with the answer
}
