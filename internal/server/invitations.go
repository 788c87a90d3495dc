package server

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"net/http"
	"strings"
	"time"

	"tautline/notebook"
)

// How long an invitation, and a recovery code, can be used.
const (
	invitationTime = 7 * 24 * time.Hour
	recoveryTime   = 20 * 365 * 24 * time.Hour
)

// invitationInput says who is let in.
type invitationInput struct {
	IDInput
	Body struct {
		Name   string        `json:"name,omitempty" maxLength:"200" doc:"Who it is for, in words." example:"Ben, Thursday group"`
		Role   notebook.Role `json:"role,omitempty" enum:",owner,coach,archer,viewer" doc:"Of someone new; default archer." example:"archer"`
		Person notebook.ID   `json:"person,omitempty" doc:"A person who is there already and lost the password."`
	}
}

// invitationView is a link that was not used yet.
type invitationView struct {
	ID      notebook.ID   `json:"id"`
	Name    string        `json:"name,omitempty" example:"Ben, Thursday group"`
	Role    notebook.Role `json:"role,omitempty" enum:",owner,coach,archer,viewer"`
	Person  notebook.ID   `json:"person,omitempty"`
	Expires time.Time     `json:"expires"`
	Path    string        `json:"path,omitempty" doc:"Shown once: give it, after this server's address, to that person alone." example:"/join#kq4…"`
}

func viewInvitation(c notebook.Credential) invitationView {
	return invitationView{ID: c.ID, Name: c.Name, Role: c.Role, Person: c.Person, Expires: c.Expires}
}

// putInvitation makes a link. Archers invite viewers; coaches archers too; the
// owner anyone, and people back who lost their password.
func (s *server) putInvitation(ctx context.Context, in *invitationInput) (*found[invitationView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	if err := notebook.ID(in.ID).Check("/id"); err != nil {
		return nil, err
	}
	role := in.Body.Role
	if role == "" {
		role = notebook.ArcherRole
	}
	if !mayInvite(me.Role, role, in.Body.Person) {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "you may not invite this person in that role", Hint: "ask the owner of the notebook"}
	}
	if in.Body.Person != "" {
		if _, err := fetch(ctx, s, s.Notebook.People(), string(in.Body.Person)); err != nil {
			return nil, err
		}
		role = ""
	}
	c, secret := s.invitation(notebook.ID(in.ID), me.ID, in.Body.Person, role, in.Body.Name)
	if err := s.club.accounts.SaveCredential(ctx, c); err != nil {
		return nil, err
	}
	view := viewInvitation(c)
	view.Path = joinPath + secret
	return &found[invitationView]{Body: view}, nil
}

// joinPath is the page of an invitation; what follows # never leaves the
// browser in an address, so no log or referrer holds it.
const joinPath = "/join#"

func mayInvite(mine, role notebook.Role, person notebook.ID) bool {
	switch mine {
	case notebook.OwnerRole:
		return true
	case notebook.CoachRole:
		return person == "" && (role == notebook.ArcherRole || role == notebook.ViewerRole)
	case notebook.ArcherRole:
		return person == "" && role == notebook.ViewerRole
	}
	return false
}

func (s *server) invitation(id, by, person notebook.ID, role notebook.Role, name string) (notebook.Credential, string) {
	secret := newSecret()
	now := s.Now().UTC()
	return notebook.Credential{
		ID: id, Kind: notebook.InvitationCredential, Hash: hashOf(secret), By: by, Person: person, Role: role, Name: name, Made: now, Expires: now.Add(invitationTime),
	}, secret
}

// listInvitations shows the owner all links, others their own.
func (s *server) listInvitations(ctx context.Context, _ *struct{}) (*found[rows[invitationView]], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	mine, err := s.myInvitations(ctx)
	if err != nil {
		return nil, err
	}
	out := &found[rows[invitationView]]{Body: rows[invitationView]{Rows: []invitationView{}}}
	for _, c := range mine {
		out.Body.Rows = append(out.Body.Rows, viewInvitation(c))
	}
	return out, nil
}

func (s *server) myInvitations(ctx context.Context) (out []notebook.Credential, err error) {
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	all, err := s.club.accounts.Credentials(ctx, notebook.InvitationCredential, "", s.Now())
	for _, c := range all {
		if c.By == me.ID || me.Role == notebook.OwnerRole {
			out = append(out, c)
		}
	}
	return out, err
}

func (s *server) deleteInvitation(ctx context.Context, in *IDInput) (*done, error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	mine, err := s.myInvitations(ctx)
	if err != nil {
		return nil, err
	}
	for _, c := range mine {
		if string(c.ID) == in.ID {
			return wasDone(), s.club.accounts.DropCredential(ctx, c.Hash)
		}
	}
	return nil, noLink()
}

func noLink() error {
	return &notebook.Error{Code: notebook.NotFound, Message: "this link was used, withdrawn, or has expired", Hint: "ask for a new one"}
}

// lookInput is the secret part of a link.
type lookInput struct {
	Body struct {
		Secret string `json:"secret" maxLength:"200" doc:"What follows # in the link."`
	}
}

func (s *server) lookAtInvitation(ctx context.Context, in *lookInput) (*found[invitationView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	c, err := s.linkBy(ctx, in.Body.Secret)
	if err != nil {
		return nil, err
	}
	return &found[invitationView]{Body: viewInvitation(c)}, nil
}

// linkBy finds a link. Its 256 bits are not guessed, so only the pace of any
// stranger holds here.
func (s *server) linkBy(ctx context.Context, secret string) (notebook.Credential, error) {
	c, err := s.club.accounts.CredentialBy(ctx, notebook.InvitationCredential, hashOf(secret), s.Now())
	if notebook.CodeOf(err) == notebook.NotFound {
		err = noLink()
	}
	return c, err
}

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
	code, err := s.admit(ctx, link, person, in.Body.Login, in.Body.Password)
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

// admit stores the person with a new account, and gives the recovery code.
func (s *server) admit(ctx context.Context, link notebook.Credential, p notebook.Person, login, password string) (string, error) {
	login = fold(login)
	if err := p.Check().OrNil(); err != nil {
		return "", err
	}
	if err := checkPassword(password, login, p.Name); err != nil {
		return "", err
	}
	hash, err := s.club.hasher.hash(ctx, password)
	if err != nil {
		return "", err
	}
	now := s.Now().UTC()
	code := newCode()
	recovery := notebook.Credential{
		ID: s.NewID(), Kind: notebook.RecoveryCredential, Hash: hashOf(plainCode(code)), Person: p.ID, Made: now, Expires: now.Add(recoveryTime),
	}
	err = s.club.accounts.Admit(ctx, notebook.Admission{
		Person: p, Invitation: link.ID, Recovery: &recovery,
		Account: notebook.Account{Person: p.ID, Login: login, Hash: hash, Made: now, Since: now},
	})
	notebook.Forget(s.Notebook)
	return code, err
}

// newCode is 120 random bits as letters that are not taken for one another.
func newCode() string {
	b := make([]byte, 15)
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
		Password string `json:"password" maxLength:"2000" doc:"The new one: 15 to 256 characters, any." example:"four words nobody puts together"`
	}
}

// recoverAccount replaces the password and uses the code up; a new one is given.
func (s *server) recoverAccount(ctx context.Context, in *recoverInput) (*found[joinedView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	from, login := visitorOf(ctx).from, fold(in.Body.Login)
	if err := s.mayTry(from, login); err != nil {
		return nil, err
	}
	link, err := s.club.accounts.CredentialBy(ctx, notebook.RecoveryCredential, hashOf(plainCode(in.Body.Code)), s.Now())
	if err == nil {
		var a notebook.Account
		if a, err = s.club.accounts.AccountOf(ctx, link.Person); err == nil && a.Login != login {
			err = noLink()
		}
	}
	if notebook.CodeOf(err) == notebook.NotFound {
		s.club.throttle.failed(from+" "+login, s.Now())
		return nil, newProblem(http.StatusUnauthorized, codeLogin, "Login and recovery code do not fit together.", "Check the letters; or ask the owner of the notebook for a new link.")
	}
	if err != nil {
		return nil, err
	}
	p, err := s.Notebook.People().Get(ctx, link.Person, link.Person)
	if err != nil {
		return nil, newProblem(http.StatusUnauthorized, codeLogin, "This person is no longer let in.", "Ask the owner of the notebook.")
	}
	if err := s.club.accounts.DropCredentials(ctx, notebook.SessionCredential, p.ID); err != nil {
		return nil, err
	}
	code, err := s.admit(ctx, link, p, login, in.Body.Password)
	if err != nil {
		return nil, err
	}
	return s.joined(ctx, p.ID, code)
}

// OwnerLink makes the link by which a notebook that nobody can log into gets
// its owner: the person whose notebook it was, or someone new. It gives "" when
// there are accounts already, unless it is asked for again: then whoever has
// the machine lets the owner in anew.
func OwnerLink(ctx context.Context, accounts notebook.Accounts, people notebook.Records[notebook.Person], now time.Time, again bool) (path string, err error) {
	n, err := accounts.CountAccounts(ctx)
	if err != nil || n > 0 && !again {
		return "", err
	}
	page, err := people.List(ctx, "", notebook.Query{Limit: 1000})
	if err != nil {
		return "", err
	}
	secret := newSecret()
	c := notebook.Credential{
		ID: notebook.NewID(), Kind: notebook.InvitationCredential, Hash: hashOf(secret), Role: notebook.OwnerRole, Name: "the owner of this notebook",
		Made: now.UTC(), Expires: now.UTC().Add(invitationTime), Person: ownerAmong(page.Rows),
	}
	return joinPath + secret, accounts.SaveCredential(ctx, c)
}

// ownerAmong is the owner, else the notebook's first person, else nobody.
func ownerAmong(people []notebook.Person) notebook.ID {
	for _, p := range people {
		if p.Role == notebook.OwnerRole && !p.Disabled {
			return p.ID
		}
	}
	if len(people) > 0 {
		return people[0].ID
	}
	return ""
}
