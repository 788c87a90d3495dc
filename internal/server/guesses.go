package server

import (
	"context"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"tautline/notebook"
)

// How many wrong tries in a row an account takes, from whatever addresses. Of
// the password, by strangers and by known devices together, they are the
// hundred that NIST SP 800-63B-4 (3.2.2) allows at most. Strangers use up
// theirs only: the person still comes in on a device that was let in before,
// with the second factor beside the password, or by a printed code.
const (
	mostOfStrangers = 80
	mostOfKnown     = 20
	mostCodes       = 20
)

// wrongKind is one of the counts of wrong tries.
type wrongKind int

const (
	byStrangers wrongKind = iota // passwords, from devices never let in
	byKnown                      // passwords, from devices that were
	wrongCodes                   // of the second factor, after a right password
)

func (k wrongKind) in(t *notebook.Tries) *int {
	return [...]*int{&t.Strangers, &t.Known, &t.Codes}[k]
}

// guesses counts wrong tries in memory, ahead of their outcome, so that those
// made at once are all counted; they are stored behind the answer, so that the
// answer takes no longer where there is an account. A kill may lose the last
// ones. The zero value has counted none; nil people, those without an account,
// are not counted.
type guesses struct {
	accounts notebook.Accounts
	log      *slog.Logger
	mu       sync.Mutex
	tries    map[notebook.ID]*notebook.Tries
	behind   map[notebook.ID]bool // not yet stored
	storing  bool
	stored   sync.WaitGroup
}

// of gives the counts of an account, which begin with what is stored.
func (g *guesses) of(a notebook.Account) *notebook.Tries {
	t := g.tries[a.Person]
	if t == nil {
		if g.tries == nil {
			g.tries, g.behind = map[notebook.ID]*notebook.Tries{}, map[notebook.ID]bool{}
		}
		t = &a.Tries
		g.tries[a.Person] = t
	}
	return t
}

// take counts a try before it is known to be wrong, and gives how many there
// are with it.
func (g *guesses) take(a notebook.Account, kind wrongKind) int {
	if a.Person == "" {
		return 0
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	n := kind.in(g.of(a))
	*n++
	return *n
}

// takeBack uncounts a try that was right.
func (g *guesses) takeBack(person notebook.ID, kind wrongKind) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if t := g.tries[person]; t != nil {
		*kind.in(t) = max(*kind.in(t)-1, 0)
	}
}

// forgive sets the counts back, in the notebook too, once the person is in.
func (g *guesses) forgive(ctx context.Context, a notebook.Account) error {
	g.mu.Lock()
	t := g.of(a)
	none := *t == notebook.Tries{} && a.Tries == notebook.Tries{}
	*t = notebook.Tries{}
	g.mu.Unlock()
	if none {
		return nil
	}
	return g.store(ctx, a.Person)
}

// forget sets the counts back of an account that was stored anew.
func (g *guesses) forget(person notebook.ID) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if t := g.tries[person]; t != nil {
		*t = notebook.Tries{}
	}
}

// keep has the counts stored soon.
func (g *guesses) keep(person notebook.ID) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.tries[person] == nil {
		return
	}
	g.behind[person] = true
	if !g.storing {
		g.storing = true
		g.stored.Go(g.storeAll)
	}
}

// storeAll stores what is behind until nothing is. What fails is tried again
// with the next wrong try.
func (g *guesses) storeAll() {
	for {
		g.mu.Lock()
		person := notebook.ID("")
		for person = range g.behind {
			break
		}
		delete(g.behind, person)
		g.storing = person != ""
		g.mu.Unlock()
		if person == "" {
			return
		}
		ctx, stop := context.WithTimeout(context.Background(), 10*time.Second)
		if err := g.store(ctx, person); err != nil && notebook.CodeOf(err) != notebook.NotFound {
			g.log.Error("wrong logins could not be stored", "error", err)
		}
		stop()
	}
}

// store writes a person's counts as they are when it is its turn to write.
func (g *guesses) store(ctx context.Context, person notebook.ID) error {
	_, err := g.accounts.ChangeAccount(ctx, person, func(a *notebook.Account) bool {
		g.mu.Lock()
		defer g.mu.Unlock()
		now := *g.tries[person]
		changed := a.Tries != now
		a.Tries = now
		return changed
	})
	return err
}

// wait waits until all is stored.
func (g *guesses) wait() { g.stored.Wait() }

// attempt is one try to come in, counted.
type attempt struct {
	account notebook.Account // without a person: there is no such login
	known   bool             // on a device that was let in before
	kind    wrongKind
	pace    string // what its failures make wait
	closed  bool   // as many wrong ones as may be: the password alone opens nothing
}

// knock begins a try to come in, if it is not too soon for one. An unknown
// login takes the same way.
func (s *server) knock(ctx context.Context, login string) (try attempt, err error) {
	who := visitorOf(ctx)
	login = fold(login)
	try.account, err = s.club.accounts.AccountFor(ctx, login)
	switch {
	case notebook.CodeOf(err) == notebook.NotFound:
		try.account = notebook.Account{Hash: nobodysHash}
	case err != nil:
		return try, err
	}
	network := who.net
	if try.known = marked(try.account, who.marks, s.Now()); try.known {
		network = knownDevice(login)
	}
	try.pace = paceOf(network, login)
	if err := s.mayTry(network, try.pace); err != nil {
		return try, err
	}
	s.club.guesses.count(&try)
	return try, nil
}

// knownDevice stands in for the address of a device that was let in before:
// others behind the same router shall not make it wait.
func knownDevice(login string) string { return "known " + login }

// paceOf names what waits after wrong tries.
func paceOf(network, login string) string { return network + " " + login }

// mayTry keeps the pace of guessing.
func (s *server) mayTry(network, pace string) error {
	wait := s.club.throttle.allow("login "+network, loginRate, loginBurst, s.Now())
	if wait = max(wait, s.club.throttle.waits(pace, s.Now())); wait > 0 {
		return tooMany(wait)
	}
	return nil
}

// count counts a try ahead of its outcome. A known device that was wrong too
// often is as good as a stranger's.
func (g *guesses) count(try *attempt) {
	if try.known {
		if try.kind = byKnown; g.take(try.account, byKnown) <= mostOfKnown {
			return
		}
		g.takeBack(try.account.Person, byKnown)
	}
	try.kind = byStrangers
	try.closed = g.take(try.account, byStrangers) > mostOfStrangers
}

// passes compares the password of a try.
func (s *server) passes(ctx context.Context, try attempt, password string) (bool, error) {
	right, err := s.club.hasher.right(ctx, password, try.account.Hash)
	right = right && try.account.Person != ""
	if err != nil || right {
		s.club.guesses.takeBack(try.account.Person, try.kind)
	}
	return right, err
}

// wrong answers a try that was. Nothing is written before the answer, so that
// it takes as long for a login that nobody has.
func (s *server) wrong(try attempt) error {
	s.club.throttle.failed(try.pace, s.Now())
	s.club.guesses.keep(try.account.Person)
	return newProblem(http.StatusUnauthorized, codeLogin, "Login and password do not fit together.", "Try again, use your printed recovery code, or ask the owner of the notebook for a new link.")
}

// saysPassword demands the password once more of who is logged in. After too
// many wrong ones they come in anew, which sets the count back.
func (s *server) saysPassword(ctx context.Context, a notebook.Account, password string, wrong FieldError) error {
	network := knownDevice(a.Login)
	try := attempt{account: a, kind: byKnown, pace: paceOf(network, a.Login)}
	if err := s.mayTry(network, try.pace); err != nil {
		return err
	}
	if s.club.guesses.take(a, byKnown) > mostOfKnown {
		s.club.guesses.takeBack(a.Person, byKnown)
		return newProblem(http.StatusForbidden, codeLogin, "Too many wrong passwords were typed.", "Log out and log in again; then do this once more.")
	}
	right, err := s.passes(ctx, try, password)
	if err == nil && !right {
		_ = s.wrong(try) // counted; it is told in other words here
		err = refuse(wrong)
	}
	return err
}
