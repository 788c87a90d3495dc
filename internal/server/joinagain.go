package server

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"time"

	"tautline/notebook"
)

// usedTime is how long a link or printed code that was used lets the one who
// used it go on, when the answer was lost (docs/decisions/0098).
const usedTime = time.Hour

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

// admitAgain lets someone in again who was let in by the same link or code
// within the hour: they prove the password chosen then, and get a new printed
// code, since the one in the lost answer is not known; it ends, and with it
// the session whose cookie was lost. To everyone else the link is used, which
// is an error with code NotFound.
func (s *server) admitAgain(ctx context.Context, by proof) (*found[joinedView], error) {
	was, err := s.club.accounts.CredentialBy(ctx, notebook.UsedCredential, hashOf(by.secret), s.Now())
	if err != nil {
		return nil, unknownLink(err)
	}
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
	if right, err = s.secondAgain(ctx, try.account, data, by); err != nil {
		return nil, err
	}
	if !right {
		s.club.throttle.failed(try.pace, s.Now())
		return nil, askCode()
	}
	return s.handOut(ctx, was, data, by)
}

// secondAgain takes the code of the second factor that was used with the lost
// answer, or one that is good now.
func (s *server) secondAgain(ctx context.Context, a notebook.Account, data usedData, by proof) (bool, error) {
	if data.Second != "" && hmac.Equal([]byte(data.Second), []byte(by.seal())) {
		return true, nil
	}
	return s.second(ctx, a, by.second)
}

// handOut gives a new printed code and a session in place of those that were
// lost.
func (s *server) handOut(ctx context.Context, was notebook.Credential, data usedData, by proof) (*found[joinedView], error) {
	p, err := s.Notebook.People().Get(ctx, was.Person, was.Person)
	if err != nil || p.Disabled {
		return nil, noLink()
	}
	lost, err := s.sessionBy(ctx, p.ID, data.Session)
	if err == nil && lost.ID != "" {
		err = s.club.kept.end(ctx, lost.Hash)
	}
	if err != nil {
		return nil, err
	}
	data.Session = notebook.NewID()
	if was.Data, err = json.Marshal(data); err != nil {
		return nil, err
	}
	if err := s.club.accounts.SaveCredential(ctx, was); err != nil {
		return nil, err
	}
	code, recovery := s.newRecovery(p.ID)
	if err := s.club.accounts.SaveCredential(ctx, recovery); err != nil {
		return nil, err
	}
	return s.joined(ctx, p.ID, data.Session, code)
}
