package server

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"tautline/notebook"
)

// usedTime is how long a link or printed code that was used lets the one who
// used it go on, when the answer was lost (docs/decisions/0098).
const usedTime = time.Hour

// secondAgain is how long the code of a second factor that was used up with the
// lost answer is taken once more.
const secondAgain = 2 * time.Minute

// joinedMark is in a session that a link or code began, until it is brought.
const joinedMark = "joined"

// proof is what somebody comes in by.
type proof struct {
	secret   string // of the link, or the printed code
	login    string
	password string
	second   string // the code of the second factor
}

// usedData is what is remembered of a use.
type usedData struct {
	Session notebook.ID `json:"session"`          // that it began, and whose cookie may be lost
	Second  string      `json:"second,omitempty"` // the seal of the code of the second factor that was used up
}

// used remembers a use in place of the link or code, which is the key: the
// same secret may come again, for its own person alone.
func (s *server) used(person, session notebook.ID, by proof) (notebook.Credential, error) {
	data := usedData{Session: session}
	if strings.TrimSpace(by.second) != "" {
		data.Second = by.seal()
	}
	raw, err := json.Marshal(data)
	now := s.Now().UTC()
	return notebook.Credential{
		ID: notebook.NewID(), Kind: notebook.UsedCredential, Hash: hashOf(by.secret), Person: person, Made: now, Expires: now.Add(usedTime), Data: raw,
	}, err
}

// seal tells a code of the second factor from others. Its key is the secret,
// of which only a hash is kept, so that nobody tries codes on what is stored.
func (p proof) seal() string {
	mac := hmac.New(sha256.New, []byte(p.secret))
	_, _ = mac.Write([]byte(strings.TrimSpace(p.second))) // a hash never fails
	return hex.EncodeToString(mac.Sum(nil))
}

// usedBy finds what is remembered of a link or code that was used within the
// hour.
func (s *server) usedBy(ctx context.Context, by proof) (notebook.Credential, error) {
	c, err := s.club.accounts.CredentialBy(ctx, notebook.UsedCredential, hashOf(by.secret), s.Now())
	return c, unknownLink(err)
}

// admitAgain lets someone in again whose answer was lost: they prove the
// password chosen then, and get a new printed code, since the one in the lost
// answer is not known; it ends, and with it the session whose cookie was lost.
// To everyone else the link is used, which is an error with code NotFound.
func (s *server) admitAgain(ctx context.Context, was notebook.Credential, by proof) (*found[joinedView], error) {
	var data usedData
	if err := json.Unmarshal(was.Data, &data); err != nil {
		return nil, err
	}
	try, err := s.knock(ctx, by.login)
	if err != nil {
		return nil, err
	}
	right, err := s.passes(ctx, try, by.password)
	switch {
	case err != nil:
		return nil, err
	case !right || try.closed || try.account.Person != was.Person:
		_ = s.wrong(try) // counted; it is told in other words here
		return nil, noLink()
	}
	again := data.Second != "" && s.sameSecond(try.account, was, data, by)
	if !again {
		if right, err = s.second(ctx, try.account, by.second); err != nil {
			return nil, err
		}
	}
	if !right {
		s.club.throttle.failed(try.pace, s.Now())
		return nil, askCode()
	}
	if again {
		data.Second = "" // once
	}
	return s.handOut(ctx, try, was, data)
}

// sameSecond takes the code of the second factor that was used up with the
// lost answer: soon after, and counted before it is compared, as others are.
func (s *server) sameSecond(a notebook.Account, was notebook.Credential, data usedData, by proof) bool {
	if s.Now().Sub(was.Made) > secondAgain || s.club.guesses.take(a, wrongCodes) > mostCodes {
		return false
	}
	same := hmac.Equal([]byte(data.Second), []byte(by.seal()))
	s.club.guesses.takeBack(a.Person, wrongCodes) // a wrong one is counted with those of the app
	return same
}

// handOut gives a new printed code and a session in place of those that were
// lost, if all still is as it was read.
func (s *server) handOut(ctx context.Context, try attempt, was notebook.Credential, data usedData) (*found[joinedView], error) {
	p, err := s.Notebook.People().Get(ctx, was.Person, was.Person)
	switch {
	case notebook.CodeOf(err) == notebook.NotFound || err == nil && p.Disabled:
		return nil, noLink()
	case err != nil:
		return nil, err
	}
	lost := data.Session
	data.Session = notebook.NewID()
	now := was
	if now.Data, err = json.Marshal(data); err != nil {
		return nil, err
	}
	code, recovery := s.newRecovery(p.ID)
	if err := s.club.accounts.AdmitAgain(ctx, notebook.Readmission{Account: try.account, Was: was, Now: now, Recovery: recovery}); err != nil {
		return nil, unknownLink(err)
	}
	s.club.throttle.forgive(try.pace)
	if err := s.club.guesses.forgive(ctx, try.account); err != nil {
		return nil, err
	}
	session, err := s.sessionBy(ctx, p.ID, lost)
	if err == nil && session.ID != "" {
		err = s.club.kept.end(ctx, session.Hash)
	}
	if err != nil {
		return nil, err
	}
	return s.joined(ctx, p.ID, data.Session, code)
}

// answerArrived forgets what was used once a request brings the session that it
// began: the answer came, and the link or code is worth nothing any more. A
// session that another has taken the place of since is ended.
func (s *server) answerArrived(ctx context.Context, who visitor, pattern string) error {
	if who.token || openRoutes[pattern] || !s.club.sessions.GetBool(ctx, joinedMark) {
		return nil
	}
	uses, err := s.club.accounts.Credentials(ctx, notebook.UsedCredential, who.person, s.Now())
	if err != nil {
		return err
	}
	own := notebook.ID(s.club.sessions.GetString(ctx, "id"))
	ours := func(c notebook.Credential) bool {
		var data usedData
		return json.Unmarshal(c.Data, &data) == nil && data.Session == own
	}
	if len(uses) > 0 && !slices.ContainsFunc(uses, ours) {
		if err := s.club.sessions.Destroy(ctx); err != nil {
			return err
		}
		return notLoggedIn()
	}
	if err := s.club.accounts.DropCredentials(ctx, notebook.UsedCredential, who.person); err != nil {
		return err
	}
	s.club.sessions.Remove(ctx, joinedMark)
	return nil
}
