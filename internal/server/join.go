package server

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"net/http"
	"strings"

	"tautline/notebook"
)

// joinInput is what a new person chooses.
type joinInput struct {
	Body struct {
		Secret   string `json:"secret" maxLength:"200" doc:"What follows # in the link."`
		Name     string `json:"name,omitempty" maxLength:"200" example:"Ben Osei" doc:"Of someone new."`
		Login    string `json:"login" minLength:"2" maxLength:"100" example:"ben"`
		Password string `json:"password" maxLength:"2000" doc:"15 to 256 characters, any." example:"four words nobody puts together"`
	}
}

// joinedView is a person who came in.
type joinedView struct {
	Account  accountView `json:"account"`
	Recovery string      `json:"recovery_code" doc:"Shown once. Print it and put it away: with it a lost password is replaced." example:"KQ4M-2XVA-…"`
}

// join lets someone in by a link and logs them in.
func (s *server) join(ctx context.Context, in *joinInput) (*found[joinedView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	link, err := s.linkBy(ctx, in.Body.Secret)
	if err != nil {
		return nil, err
	}
	person, err := s.joining(ctx, link, in.Body.Name)
	if err != nil {
		return nil, err
	}
	code, err := s.admit(ctx, link, person, notebook.Account{Login: in.Body.Login}, in.Body.Password)
	if err != nil {
		return nil, err
	}
	return s.joined(ctx, person.ID, code)
}

func (s *server) joined(ctx context.Context, person notebook.ID, code string) (*found[joinedView], error) {
	if err := s.begin(ctx, person); err != nil {
		return nil, err
	}
	account, err := s.viewAccount(ctx, person)
	if err != nil {
		return nil, err
	}
	return &found[joinedView]{Body: joinedView{account.Body, code}}, nil
}

// joining is who comes in by a link: someone new, or someone who was there.
func (s *server) joining(ctx context.Context, link notebook.Credential, name string) (notebook.Person, error) {
	if link.Person == "" {
		id := s.NewID()
		return notebook.Person{
			Stamp: notebook.Stamp{ID: id, By: id, At: s.Now().UTC()}, Name: strings.TrimSpace(name), Hand: notebook.RightHanded, Units: "mixed",
			Role: link.Role, Version: 1,
		}, nil
	}
	p, err := s.Notebook.People().Get(ctx, link.Person, link.Person)
	if err != nil {
		return p, err
	}
	if link.Role != "" && p.Role != link.Role {
		p.Role, p.Version = link.Role, p.Version+1
	}
	return p, nil
}

// admit stores the person with a new account, and gives the recovery code. Of
// the account that was, login and second factor are taken over.
func (s *server) admit(ctx context.Context, link notebook.Credential, p notebook.Person, was notebook.Account, password string) (string, error) {
	login := fold(was.Login)
	if err := p.Check().OrNil(); err != nil {
		return "", err
	}
	if err := checkPassword(password, shortestPassword, login, p.Name); err != nil {
		return "", err
	}
	hash, err := s.club.hasher.hash(ctx, password)
	if err != nil {
		return "", err
	}
	now := s.Now().UTC()
	code := newCode(15)
	was.Factor.Short = false
	recovery := notebook.Credential{
		ID: s.NewID(), Kind: notebook.RecoveryCredential, Hash: hashOf(plainCode(code)), Person: p.ID, Made: now, Expires: now.Add(recoveryTime),
	}
	err = s.club.accounts.Admit(ctx, notebook.Admission{
		Person: p, Invitation: link.ID, Recovery: &recovery,
		Account: notebook.Account{Person: p.ID, Login: login, Hash: hash, Made: now, Since: now, Factor: was.Factor},
	})
	s.forget()
	s.club.guesses.forget(p.ID)
	return code, err
}

// newCode is random bytes, a multiple of five, as letters that are not taken
// for one another.
func newCode(size int) string {
	b := make([]byte, size)
	_, _ = rand.Read(b) // never fails (crypto/rand)
	raw := base32.StdEncoding.EncodeToString(b)
	var parts []string
	for i := 0; i < len(raw); i += 4 {
		parts = append(parts, raw[i:min(i+4, len(raw))])
	}
	return strings.Join(parts, "-")
}

// plainCode is a code as it is kept, however it was typed.
func plainCode(typed string) string {
	return strings.NewReplacer("-", "", " ", "", "0", "O", "1", "I", "8", "B").Replace(strings.ToUpper(typed))
}

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
	login := fold(in.Body.Login)
	pace := paceOf(visitorOf(ctx).net, login)
	if err := s.mayTry(visitorOf(ctx).net, pace); err != nil {
		return nil, err
	}
	link, err := s.club.accounts.CredentialBy(ctx, notebook.RecoveryCredential, hashOf(plainCode(in.Body.Code)), s.Now())
	var a notebook.Account
	if err == nil {
		if a, err = s.club.accounts.AccountOf(ctx, link.Person); err == nil && a.Login != login {
			err = noLink()
		}
	}
	if notebook.CodeOf(err) == notebook.NotFound {
		s.club.throttle.failed(pace, s.Now())
		return nil, newProblem(http.StatusUnauthorized, codeLogin, "Login and recovery code do not fit together.", "Check the letters; or ask the owner of the notebook for a new link.")
	}
	if err != nil {
		return nil, err
	}
	right, err := s.second(ctx, a, in.Body.Second)
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
	p, err := s.Notebook.People().Get(ctx, link.Person, link.Person)
	if err != nil {
		return nil, newProblem(http.StatusUnauthorized, codeLogin, "This person is no longer let in.", "Ask the owner of the notebook.")
	}
	if err := s.club.accounts.DropCredentials(ctx, notebook.SessionCredential, p.ID); err != nil {
		return nil, err
	}
	code, err := s.admit(ctx, link, p, a, in.Body.Password)
	if err != nil {
		return nil, err
	}
	return s.joined(ctx, p.ID, code)
}
