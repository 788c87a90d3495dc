package server

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"math"
	"net/http"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"

	"tautline/notebook"
)

// club is what a server with accounts has beside the others.
type club struct {
	accounts notebook.Accounts
	sessions *scs.SessionManager
	kept     *sessionStore
	hasher   hasher
	throttle throttle
	hurry    hurry
	guesses  guesses
	audit    *auditor
	looks    looks
	proxied  bool
}

// Times after which a session ends.
const (
	sessionIdle  = 14 * 24 * time.Hour
	sessionLong  = 90 * 24 * time.Hour
	ownerSession = 12 * time.Hour // of who lets others in
	ownerIdle    = time.Hour      // the same, unused (NIST SP 800-63B-4, 2.2.3: 1 h at level 2)
)

// sessionName is the cookie of a session.
const sessionName = "__Host-tautline"

// visitor is who asks, as proved by a session or a token.
type visitor struct {
	person notebook.ID
	may    notebook.Grant
	token  bool
	lacks  bool    // an owner who must set up a second factor first
	from   string  // network address
	device string  // in words, such as "Firefox on Android"
	net    string  // the network it counts for
	marks  string  // that the device got when people came in on it
	mark   *string // for the device to keep
}

type visitorKey struct{}

// newClub prepares accounts; nil without them.
func newClub(c Config) *club {
	if c.Accounts == nil {
		return nil
	}
	m := scs.New()
	m.Lifetime, m.IdleTimeout = sessionLong, sessionIdle
	m.Cookie.Name, m.Cookie.Path = sessionName, "/"
	m.Cookie.HttpOnly, m.Cookie.Secure, m.Cookie.SameSite = true, true, http.SameSiteLaxMode
	kept := &sessionStore{accounts: c.Accounts, codec: m.Codec, now: c.Now, log: c.Log}
	m.Store = kept
	m.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		c.Log.Error("session", "error", err)
		a := heldBelow(w)
		if a != nil && a.streaming {
			return // it is on its way, and what it says is right
		}
		p := newProblem(http.StatusServiceUnavailable, string(notebook.Unavailable), "The session could not be read, or not be kept.", "Try again in a moment.")
		if told := (*notebook.Error)(nil); errors.As(err, &told) && notebook.OfStorage(told) { // a full disk is told as one
			p = ofError(told)
		}
		writeProblem(w, r, p)
		if a != nil { // a session is kept when its answer begins: what the handler says is no longer so
			a.settled = true
		}
	}
	return &club{
		accounts: c.Accounts, sessions: m, kept: kept, hasher: newHasher(), audit: newAuditor(c), proxied: c.Proxied,
		guesses: guesses{accounts: c.Accounts, log: c.Log},
	}
}

// openRoutes need no login. All other addresses of the API do.
var openRoutes = map[string]bool{
	"GET /api/v1/health": true, "GET /api/v1/ready": true, "GET /api/v1/account": true,
	"POST /api/v1/login": true, "POST /api/v1/join": true, "POST /api/v1/join/look": true, "POST /api/v1/recover": true,
}

// factorRoutes are what an owner still reaches who must set up a second factor.
var factorRoutes = map[string]bool{
	"GET /api/v1/me": true, "POST /api/v1/logout": true, "POST /api/v1/logout-everywhere": true,
	"POST /api/v1/account/confirm": true, "POST /api/v1/account/second-factor": true, "PUT /api/v1/account/second-factor": true,
}

// admitted lets in who may come in: it knows the visitor by session or token,
// keeps the pace, and notes who did what. Without accounts everyone at this
// machine is the notebook's person.
func (s *server) admitted(next http.Handler) http.Handler {
	if s.club == nil {
		return next
	}
	door := s.club.sessions.LoadAndSave(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { s.door(w, r, next) }))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !isAPI(r.URL.Path) && !isSheetFile(r.URL.Path) {
			next.ServeHTTP(w, r)
			return
		}
		door.ServeHTTP(w, r)
	})
}

func isSheetFile(path string) bool {
	return strings.HasPrefix(path, "/sheets/") && strings.Contains(path[strings.LastIndexByte(path, '/'):], ".")
}

func (s *server) door(w http.ResponseWriter, r *http.Request, next http.Handler) {
	shown := shownBy(r)
	who, err := s.whoIs(r)
	if who.person == "" {
		s.club.hurry.forget(shown)
	}
	if err != nil {
		writeProblem(w, r, s.problem(r.Context(), err))
		return
	}
	who.from, who.device = addressOf(r, s.club.proxied), deviceOf(r)
	who.net, who.marks = networkOf(who.from), marksOf(r)
	if who.person != "" {
		s.club.hurry.passed(shown, who.person, s.Now())
	}
	if counted, _ := r.Context().Value(pacedKey{}).(notebook.ID); counted == "" || counted != who.person {
		if wait := s.tooFast(who); wait > 0 {
			writeProblem(w, r, tooMany(wait))
			return
		}
	}
	_, pattern := s.mux.Handler(r)
	p := refusedAtDoor(who, pattern, r.Method)
	if who.person != "" {
		if err := s.answerArrived(r.Context(), who, pattern); err != nil && p == nil {
			p = s.problem(r.Context(), err)
		}
	}
	seen := &statusSeen{ResponseWriter: w, status: http.StatusOK}
	who.mark = &seen.mark
	if p != nil {
		writeProblem(seen, r, p)
	} else {
		r = r.WithContext(context.WithValue(r.Context(), visitorKey{}, who))
		next.ServeHTTP(seen, r)
	}
	status := seen.status
	if a := heldBelow(w); a != nil && a.settled { // its session could not be kept
		status = a.status
	}
	s.club.audit.request(r, pattern, who, status)
	s.looked(r, pattern, who, status)
	noted(r)
}

// refusedAtDoor says why a visitor may not go on to a route.
func refusedAtDoor(who visitor, pattern, method string) *Problem {
	switch {
	case openRoutes[pattern]:
		return nil
	case who.person == "":
		return notLoggedIn()
	case who.lacks && !factorRoutes[pattern]:
		return newProblem(http.StatusForbidden, codeSecond, "Your login needs a second factor: you let others into this notebook, or it asks everyone for one.", "Set it up on the page of your account; it takes a minute and an authenticator app on your phone.")
	case who.may == notebook.MayRead && (changes(method) || method == http.MethodDelete):
		return newProblem(http.StatusForbidden, string(notebook.NotAllowed), "This token may only read.", "Make one that may work, on the page of your account.")
	}
	return nil
}

// statusSeen remembers the status of an answer, and gives a mark with it.
type statusSeen struct {
	http.ResponseWriter
	status int
	mark   string
}

func (w *statusSeen) WriteHeader(status int) {
	w.status = status
	if w.mark != "" {
		http.SetCookie(w.ResponseWriter, markCookie(w.mark))
	}
	w.ResponseWriter.WriteHeader(status)
}

// Unwrap lets http.ResponseController reach the connection.
func (w *statusSeen) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func tooMany(wait time.Duration) *Problem {
	p := newProblem(http.StatusTooManyRequests, codeTooMany, "Too many requests.", "Wait a moment, then send it again; a resend does no harm.")
	p.after = int(math.Ceil(wait.Seconds()))
	return p
}

// tooFast keeps the pace of a person, or of an address that is nobody.
func (s *server) tooFast(who visitor) time.Duration {
	if who.person != "" {
		return s.club.throttle.allow(nameOf(who.person), personRate, personBurst, s.Now())
	}
	return s.club.throttle.allow("address "+who.net, addressRate, addressBurst, s.Now())
}

// nameOf is what a person's pace is kept under.
func nameOf(person notebook.ID) string { return "person " + string(person) }

// whoIs knows a visitor by a token in the Authorization header, or by their
// session; a zero visitor is nobody.
func (s *server) whoIs(r *http.Request) (visitor, error) {
	if secret, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return s.byToken(r.Context(), secret)
	}
	person := notebook.ID(s.club.sessions.GetString(r.Context(), "person"))
	if person == "" {
		return visitor{}, nil
	}
	since := time.Unix(0, s.club.sessions.GetInt64(r.Context(), "since"))
	used := time.Unix(0, s.club.kept.lastUsed(s.club.sessions.Token(r.Context()), s.club.sessions.GetInt64(r.Context(), "used")))
	s.club.sessions.Put(r.Context(), "used", s.Now().UnixNano())
	if s.club.sessions.GetString(r.Context(), "id") == "" { // begun by an older program
		s.club.sessions.Put(r.Context(), "id", string(notebook.NewID()))
	}
	return s.standing(r.Context(), visitor{person: person, may: notebook.MayWork}, since, used)
}

func (s *server) byToken(ctx context.Context, secret string) (visitor, error) {
	c, err := s.club.accounts.CredentialBy(ctx, notebook.TokenCredential, hashOf(secret), s.Now())
	if notebook.CodeOf(err) == notebook.NotFound {
		return visitor{}, newProblem(http.StatusUnauthorized, codeLogin, "This token is unknown, or has expired.", "Make a new one on the page of your account.")
	}
	if err != nil {
		return visitor{}, err
	}
	return s.standing(ctx, visitor{person: c.Person, may: c.May, token: true}, c.Made, s.Now())
}

// standing asks whether the person may still come in: not put out, and not
// logged out everywhere since.
func (s *server) standing(ctx context.Context, who visitor, since, used time.Time) (visitor, error) {
	a, err := s.club.accounts.AccountOf(ctx, who.person)
	if notebook.CodeOf(err) == notebook.NotFound {
		return visitor{}, nil
	}
	if err != nil {
		return visitor{}, err
	}
	p, err := s.Notebook.People().Get(ctx, who.person, who.person)
	switch {
	case notebook.CodeOf(err) == notebook.NotFound || err == nil && p.Disabled:
		return visitor{}, nil
	case err != nil:
		return visitor{}, err
	case since.Before(a.Since):
		return visitor{}, nil
	case !who.token && p.Role == notebook.OwnerRole && (s.Now().Sub(since) > ownerSession || s.Now().Sub(used) > ownerIdle):
		return visitor{}, nil
	}
	who.lacks = a.Factor.Secret == "" && s.needsFactor(ctx, p, a)
	return who, nil
}

// begin starts a session under a new name.
func (s *server) begin(ctx context.Context, person notebook.ID) error {
	return s.beginAs(ctx, person, notebook.NewID())
}

// beginAs starts it under a given id, by which it can be ended.
func (s *server) beginAs(ctx context.Context, person, id notebook.ID) error {
	if err := s.club.sessions.RenewToken(ctx); err != nil {
		return err
	}
	s.club.sessions.Put(ctx, "person", string(person))
	s.club.sessions.Put(ctx, "since", s.Now().UnixNano())
	s.club.sessions.Put(ctx, "used", s.Now().UnixNano())
	s.club.sessions.Put(ctx, "confirmed", int64(0))
	s.club.sessions.Put(ctx, "id", string(id))
	s.club.sessions.Put(ctx, "device", visitorOf(ctx).device)
	return s.markDevice(ctx, person)
}

// newSecret makes 256 random bits as text.
func newSecret() string {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails (crypto/rand)
	return base64.RawURLEncoding.EncodeToString(b)
}

// hashOf is what is kept of a secret.
func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

func notLoggedIn() *Problem {
	return newProblem(http.StatusUnauthorized, codeLogin, "You are not logged in.", "Log in, then do it again; what you typed is still on your device.")
}
