package server

import (
	"context"
	"time"

	"tautline/notebook"
)

// confirmTime is how long a person counts as having said again who they are.
const confirmTime = 5 * time.Minute

// confirmInput is a person who says again who they are.
type confirmInput struct {
	Body struct {
		Password string `json:"password" maxLength:"2000" example:"four words nobody puts together"`
		Code     string `json:"code,omitempty" maxLength:"100" doc:"Of the second factor, for who has one." example:"123456"`
	}
}

// confirm opens, for some minutes, what cannot be taken back: one's whole
// export, erasing, the second factor.
func (s *server) confirm(ctx context.Context, in *confirmInput) (*done, error) {
	a, err := s.myAccount(ctx, loggedIn)
	if err != nil {
		return nil, err
	}
	if err := s.saysPassword(ctx, a, in.Body.Password, FieldError{"/password", codeInvalid, "this is not your password", "type it again"}); err != nil {
		return nil, err
	}
	right, err := s.second(ctx, a, in.Body.Code)
	if err != nil {
		return nil, err
	}
	if !right {
		s.club.throttle.failed(paceOf(visitorOf(ctx).net, a.Login), s.Now())
		return nil, refuse(FieldError{"/code", codeInvalid, "this is not a code of your second factor that is good now", "type the six digits that the app shows, or a printed code"})
	}
	s.club.sessions.Put(ctx, "confirmed", s.Now().UnixNano())
	return wasDone(), nil
}

// How sure it must be who asks.
const (
	loggedIn  = false
	confirmed = true
)

// myAccount is the visitor's account; sure demands that they said again, just
// now, who they are. A token cannot.
func (s *server) myAccount(ctx context.Context, sure bool) (notebook.Account, error) {
	var none notebook.Account
	if err := s.noAccounts(); err != nil {
		return none, err
	}
	who := visitorOf(ctx)
	if who.token {
		return none, &notebook.Error{Code: notebook.NotAllowed, Message: "a token may not do this", Hint: "log in on the page of your account"}
	}
	since := time.Unix(0, s.club.sessions.GetInt64(ctx, "confirmed"))
	if sure && s.Now().Sub(since) > confirmTime {
		return none, newProblem(403, codeConfirm, "This needs your password once more.", "Send it to /api/v1/account/confirm, then ask again within five minutes.")
	}
	return s.club.accounts.AccountOf(ctx, who.person)
}
