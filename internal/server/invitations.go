package server

import (
	"context"
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
	Used    bool          `json:"used,omitempty" doc:"It was used within the hour: whoever did, and lost the answer, sends the same login and password again."`
	Path    string        `json:"path,omitempty" doc:"Shown once: give it, after this server's address, to that person alone." example:"/join#kq4…"`
}

func viewInvitation(c notebook.Credential) invitationView {
	return invitationView{ID: c.ID, Name: c.Name, Role: c.Role, Person: c.Person, Expires: c.Expires, Used: c.Kind == notebook.UsedCredential}
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
	return &notebook.Error{Code: notebook.NotFound, Message: "this link was used, withdrawn, or has expired", Hint: "ask for a new one; if it was you, less than an hour ago, send the login and password of then again"}
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
	if notebook.CodeOf(err) == notebook.NotFound {
		c, err = s.club.accounts.CredentialBy(ctx, notebook.UsedCredential, hashOf(in.Body.Secret), s.Now())
		c = notebook.Credential{ID: c.ID, Kind: c.Kind, Expires: c.Expires} // whose, is for their password to say
	}
	if err != nil {
		return nil, unknownLink(err)
	}
	return &found[invitationView]{Body: viewInvitation(c)}, nil
}

// linkBy finds a link. Its 256 bits are not guessed, so only the pace of any
// stranger holds here.
func (s *server) linkBy(ctx context.Context, secret string) (notebook.Credential, error) {
	c, err := s.club.accounts.CredentialBy(ctx, notebook.InvitationCredential, hashOf(secret), s.Now())
	return c, unknownLink(err)
}

// unknownLink says of what is not found that it is a link.
func unknownLink(err error) error {
	if notebook.CodeOf(err) == notebook.NotFound {
		return noLink()
	}
	return err
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
