package server

import (
	"context"
	"sync"

	"tautline/notebook"
	"tautline/unit"
)

// owner is the person whose notebook this is. Until the first write there may
// be none: then it is the one that will be made, with version 0.
type owner struct {
	mu     sync.Mutex
	id     notebook.ID // of the stored person, once known
	unborn notebook.Person
}

// personOutput is a person with the version's tag.
type personOutput struct {
	ETag string `header:"ETag" doc:"Version; send it back in If-Match to change the person."`
	Body personView
}

// personView is who reads, and how.
type personView struct {
	Person notebook.Person   `json:"person"`
	Tag    string            `json:"tag" doc:"The ETag, for clients that keep the answer: send it in If-Match to change the person." example:"\"2-9f51c0de9f51c0de\""`
	Units  map[string]string `json:"unit_symbols" doc:"Unit in which this person reads each quantity." example:"{\"setting\":\"mm\",\"force\":\"lbf\"}"`
}

func viewPerson(p notebook.Person) *personOutput {
	system := systemOf(p)
	symbols := map[string]string{}
	for _, name := range kindNames {
		symbols[name] = kinds[name].symbol(system)
	}
	return &personOutput{ETag: tagOf(p), Body: personView{p, tagOf(p), symbols}}
}

func (s *server) getMe(ctx context.Context, _ *struct{}) (*personOutput, error) {
	p, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	return viewPerson(p), nil
}

// putMeInput changes what a person may choose.
type putMeInput struct {
	VersionInput
	Body struct {
		Name  string        `json:"name" example:"Robin"`
		Hand  notebook.Hand `json:"hand" enum:"right,left" doc:"Hand that draws the string."`
		Units string        `json:"units" enum:"metric,imperial,mixed"`
		Comma bool          `json:"decimal_comma,omitempty"`
		Theme string        `json:"theme,omitempty" enum:",light,dark,sun"`
	}
}

func (s *server) putMe(ctx context.Context, in *putMeInput) (*personOutput, error) {
	now, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	next := now
	next.Name, next.Hand, next.Units = in.Body.Name, in.Body.Hand, in.Body.Units
	next.Comma, next.Theme, next.Version = in.Body.Comma, in.Body.Theme, now.Version+1
	if err := demandVersion(in.IfMatch, now, next); err != nil {
		return nil, err
	}
	if err := next.Check().OrNil(); err != nil {
		return nil, err
	}
	stored, _, err := s.Notebook.People().Put(ctx, next.ID, next)
	if err != nil {
		return nil, raced(err, next, func() (notebook.Person, error) { return s.me(ctx) })
	}
	s.remember(stored.ID)
	return viewPerson(stored), nil
}

// me gives who asks: with accounts the visitor, else the owner, stored or not
// yet.
func (s *server) me(ctx context.Context) (notebook.Person, error) {
	if s.club != nil {
		who := visitorOf(ctx).person
		return s.person(ctx, who)
	}
	s.owner.mu.Lock()
	defer s.owner.mu.Unlock()
	if s.owner.id != "" {
		return s.person(ctx, s.owner.id)
	}
	page, err := s.Notebook.People().List(ctx, "", notebook.Query{Limit: 1})
	if err != nil {
		return notebook.Person{}, err
	}
	if len(page.Rows) > 0 {
		s.owner.id = page.Rows[0].ID
		return page.Rows[0], nil
	}
	if s.owner.unborn.ID == "" {
		id := s.NewID()
		s.owner.unborn = notebook.Person{
			Stamp: notebook.Stamp{ID: id, By: id, At: s.Now().UTC()},
			Name:  "Archer", Hand: notebook.RightHanded, Units: "mixed",
		}
	}
	return s.owner.unborn, nil
}

// people remembers who asked, as they were at a moment: every request needs
// them more than once.
type people struct {
	mu     sync.Mutex
	moment moment
	byID   map[notebook.ID]notebook.Person
}

// person is somebody as they see themselves.
func (s *server) person(ctx context.Context, id notebook.ID) (notebook.Person, error) {
	now := s.changes.at("")
	now.OfBow = 0
	if p, ok := s.people.recall(id, now); ok {
		return p, nil
	}
	p, err := s.Notebook.People().Get(ctx, id, id)
	if err == nil {
		s.people.keep(p, now)
	}
	return p, err
}

func (k *people) recall(id notebook.ID, now moment) (p notebook.Person, ok bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	p, ok = k.byID[id]
	return p, ok && k.moment == now
}

func (k *people) keep(p notebook.Person, now moment) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.byID == nil || k.moment != now {
		k.byID, k.moment = map[notebook.ID]notebook.Person{}, now
	}
	k.byID[p.ID] = p
}

func (s *server) remember(id notebook.ID) {
	s.owner.mu.Lock()
	defer s.owner.mu.Unlock()
	s.owner.id = id
}

// actor gives who acts, and stores the owner at the first write of all.
func (s *server) actor(ctx context.Context) (notebook.Person, error) {
	p, err := s.me(ctx)
	if err != nil || p.Version > 0 {
		return p, err
	}
	p.Version = 1
	stored, _, err := s.Notebook.People().Put(ctx, p.ID, p)
	if err != nil {
		return p, err
	}
	s.remember(stored.ID)
	return stored, nil
}

// system gives the units of whoever asks.
func (s *server) system(ctx context.Context) (unit.System, error) {
	p, err := s.me(ctx)
	return systemOf(p), err
}

// systemOf gives a person's units.
func systemOf(p notebook.Person) unit.System { return p.System() }
