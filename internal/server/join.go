package server

import (
	"context"
	"crypto/rand"
	"encoding/base32"
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
	out, err := s.joinFirst(ctx, in)
	if notebook.CodeOf(err) == notebook.NotFound {
		by := proof{secret: in.Body.Secret, login: in.Body.Login, password: in.Body.Password}
		was, err := s.usedBy(ctx, by)
		if err != nil {
			return nil, err
		}
		return s.admitAgain(ctx, was, by)
	}
	return out, err
}

// joinFirst uses the link up.
func (s *server) joinFirst(ctx context.Context, in *joinInput) (*found[joinedView], error) {
	link, err := s.linkBy(ctx, in.Body.Secret)
	if err != nil {
		return nil, err
	}
	person, err := s.joining(ctx, link, in.Body.Name)
	if err != nil {
		return nil, err
	}
	return s.admit(ctx, link, person, notebook.Account{Login: in.Body.Login}, proof{secret: in.Body.Secret, password: in.Body.Password})
}

func (s *server) joined(ctx context.Context, person, session notebook.ID, code string) (*found[joinedView], error) {
	if err := s.beginAs(ctx, person, session); err != nil {
		return nil, err
	}
	s.club.sessions.Put(ctx, joinedMark, true)
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

// admit stores the person with a new account, begins a session and gives the
// recovery code. Of the account that was, login and second factor are taken
// over.
func (s *server) admit(ctx context.Context, link notebook.Credential, p notebook.Person, was notebook.Account, by proof) (*found[joinedView], error) {
	login := fold(was.Login)
	if err := p.Check().OrNil(); err != nil {
		return nil, err
	}
	if err := checkPassword(by.password, shortestPassword, login, p.Name); err != nil {
		return nil, err
	}
	hash, err := s.club.hasher.hash(ctx, by.password)
	if err != nil {
		return nil, err
	}
	now := s.Now().UTC()
	code, recovery := s.newRecovery(p.ID)
	was.Factor.Short = false
	session := notebook.NewID()
	used, err := s.used(p.ID, session, by)
	if err != nil {
		return nil, err
	}
	err = s.club.accounts.Admit(ctx, notebook.Admission{
		Person: p, Invitation: link.ID, Used: &used, Recovery: &recovery,
		Account: notebook.Account{Person: p.ID, Login: login, Hash: hash, Made: now, Since: now, Factor: was.Factor},
	})
	s.forget()
	s.club.guesses.forget(p.ID)
	if err != nil {
		return nil, err
	}
	return s.joined(ctx, p.ID, session, code)
}

// newRecovery makes a printed code, and what is kept of it.
func (s *server) newRecovery(person notebook.ID) (code string, kept notebook.Credential) {
	now := s.Now().UTC()
	code = newCode(15)
	return code, notebook.Credential{
		ID: s.NewID(), Kind: notebook.RecoveryCredential, Hash: hashOf(plainCode(code)), Person: person, Made: now, Expires: now.Add(recoveryTime),
	}
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
