package server

import (
	"context"
	"time"

	"tautline/notebook"
)

// personRow is a person with the version's tag.
type personRow struct {
	notebook.Person
	Tag string `json:"tag" doc:"Send it in If-Match to change the person's standing." example:"\"2-9f51c0de9f51c0de\""`
}

// listPeople shows who is known to the visitor.
func (s *server) listPeople(ctx context.Context, in *pageInput) (*found[rows[personRow]], error) {
	return list(ctx, s, s.Notebook.People(), listInput{After: in.After, Limit: in.Limit}, func(p notebook.Person) personRow { return personRow{p, tagOf(p)} })
}

// pageInput is a place in a list.
type pageInput struct {
	After string `query:"after" doc:"Cursor: the next of the page before." example:"200"`
	Limit int    `query:"limit" minimum:"1" maximum:"500" default:"200"`
}

// standingInput is what the owner decides about a person.
type standingInput struct {
	IDInput
	VersionInput
	Body struct {
		Role     notebook.Role `json:"role" enum:"owner,coach,archer,viewer"`
		Disabled bool          `json:"disabled,omitempty" doc:"No longer let in; the records stay."`
	}
}

// putStanding changes a role, or lets someone in no longer: their sessions end
// with the next request.
func (s *server) putStanding(ctx context.Context, in *standingInput) (*personOutput, error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	now, err := fetch(ctx, s, s.Notebook.People(), in.ID)
	if err != nil {
		return nil, err
	}
	next := now
	next.Role, next.Disabled, next.Version = in.Body.Role, in.Body.Disabled, now.Version+1
	if err := demandVersion(in.IfMatch, now, next); err != nil {
		return nil, err
	}
	stored, _, err := s.Notebook.People().Put(ctx, visitorOf(ctx).person, next)
	if err != nil {
		return nil, raced(err, next, func() (notebook.Person, error) { return fetch(ctx, s, s.Notebook.People(), in.ID) })
	}
	return viewPerson(stored), nil
}

// shareInput lets someone see or work on bows.
type shareInput struct {
	IDInput
	Body struct {
		Bow    notebook.ID    `json:"bow,omitempty" doc:"One bow of yours; absent: all of them, later ones too."`
		With   notebook.ID    `json:"with" doc:"The person."`
		May    notebook.Grant `json:"may" enum:"read,work" example:"work"`
		Archer notebook.ID    `json:"archer,omitempty" doc:"Whose bows: yours, also when absent. Nobody shares another's."`
	}
}

func (s *server) putShare(ctx context.Context, in *shareInput) (*kept[notebook.Share], error) {
	me, stamp, err := s.stamped(ctx, in.ID, time.Time{})
	if err != nil {
		return nil, err
	}
	if in.Body.Bow != "" {
		if _, err := refers(ctx, s, s.Notebook.Bows(), "/bow", in.Body.Bow); err != nil {
			return nil, err
		}
	}
	archer := in.Body.Archer
	if archer == "" {
		archer = me.ID
	}
	record := notebook.Share{Stamp: stamp, Archer: archer, Bow: in.Body.Bow, With: in.Body.With, May: in.Body.May}
	stored, status, err := keep(ctx, s.Notebook.Shares(), me.ID, record)
	if err != nil {
		return nil, err
	}
	return &kept[notebook.Share]{Status: status, Body: stored}, nil
}

func (s *server) listShares(ctx context.Context, in *pageInput) (*found[rows[notebook.Share]], error) {
	return list(ctx, s, s.Notebook.Shares(), listInput{After: in.After, Limit: in.Limit}, func(r notebook.Share) notebook.Share { return r })
}

// tokenInput asks for a token.
type tokenInput struct {
	IDInput
	Body struct {
		Name string         `json:"name" minLength:"1" maxLength:"200" example:"club spreadsheet"`
		May  notebook.Grant `json:"may" enum:"read,work" example:"read"`
		Days int            `json:"days" minimum:"1" maximum:"366" example:"90"`
	}
}

// tokenView is a token; its secret is shown once.
type tokenView struct {
	ID      notebook.ID    `json:"id"`
	Name    string         `json:"name" example:"club spreadsheet"`
	May     notebook.Grant `json:"may" enum:"read,work"`
	Made    time.Time      `json:"made"`
	Expires time.Time      `json:"expires"`
	Secret  string         `json:"secret,omitempty" doc:"Shown once. Send it as Authorization: Bearer …"`
}

func viewToken(c notebook.Credential) tokenView {
	return tokenView{ID: c.ID, Name: c.Name, May: c.May, Made: c.Made, Expires: c.Expires}
}

func (s *server) putToken(ctx context.Context, in *tokenInput) (*found[tokenView], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	if err := notebook.ID(in.ID).Check("/id"); err != nil {
		return nil, err
	}
	who := visitorOf(ctx)
	if who.token {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "a token makes no tokens", Hint: "log in on the page of your account"}
	}
	secret, now := newSecret(), s.Now().UTC()
	c := notebook.Credential{
		ID: notebook.ID(in.ID), Kind: notebook.TokenCredential, Hash: hashOf(secret), Person: who.person, By: who.person,
		Name: in.Body.Name, May: in.Body.May, Made: now, Expires: now.AddDate(0, 0, in.Body.Days),
	}
	if err := s.club.accounts.SaveCredential(ctx, c); err != nil {
		return nil, err
	}
	view := viewToken(c)
	view.Secret = secret
	return &found[tokenView]{Body: view}, nil
}

func (s *server) listTokens(ctx context.Context, _ *struct{}) (*found[rows[tokenView]], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	mine, err := s.club.accounts.Credentials(ctx, notebook.TokenCredential, visitorOf(ctx).person, s.Now())
	out := &found[rows[tokenView]]{Body: rows[tokenView]{Rows: []tokenView{}}}
	for _, c := range mine {
		out.Body.Rows = append(out.Body.Rows, viewToken(c))
	}
	return out, err
}

func (s *server) deleteToken(ctx context.Context, in *IDInput) (*done, error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	mine, err := s.club.accounts.Credentials(ctx, notebook.TokenCredential, visitorOf(ctx).person, s.Now())
	if err != nil {
		return nil, err
	}
	for _, c := range mine {
		if string(c.ID) == in.ID {
			return wasDone(), s.club.accounts.DropCredential(ctx, c.Hash)
		}
	}
	return nil, &notebook.Error{Code: notebook.NotFound, Message: "there is no such token", Hint: "look at the list of yours"}
}

// auditInput is a place in the log.
type auditInput struct {
	Before int64 `query:"before" minimum:"0" doc:"Only entries before this number." example:"200"`
	Limit  int   `query:"limit" minimum:"1" maximum:"500" default:"200"`
}

// listAudit shows who did what to the owner of the notebook.
func (s *server) listAudit(ctx context.Context, in *auditInput) (*found[rows[notebook.AuditEntry]], error) {
	if err := s.noAccounts(); err != nil {
		return nil, err
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	if me.Role != notebook.OwnerRole {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "the log is for the owner of the notebook", Hint: "ask the owner"}
	}
	s.club.audit.flush()
	entries, err := s.club.accounts.Log(ctx, in.Before, in.Limit)
	if err != nil {
		return nil, err
	}
	if entries == nil {
		entries = []notebook.AuditEntry{}
	}
	return &found[rows[notebook.AuditEntry]]{Body: rows[notebook.AuditEntry]{Rows: entries}}, nil
}
