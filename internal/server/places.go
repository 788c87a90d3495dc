package server

import (
	"context"
	"net/http"
	"strings"
	"time"

	"tautline/notebook"
)

// sessionListed is one place of being logged in.
type sessionListed struct {
	ID      notebook.ID `json:"id" doc:"To end it: DELETE /api/v1/account/sessions/{id}."`
	Device  string      `json:"device" doc:"As its browser tells of itself." example:"Firefox on Android"`
	Began   time.Time   `json:"began"`
	Used    time.Time   `json:"used" doc:"Last, to about five minutes."`
	Expires time.Time   `json:"expires"`
	Here    bool        `json:"here,omitempty" doc:"This one."`
}

// places lists where a person is logged in.
func (s *server) places(ctx context.Context, a notebook.Account) ([]sessionListed, error) {
	out := []sessionListed{}
	live, err := s.club.accounts.Credentials(ctx, notebook.SessionCredential, a.Person, s.Now())
	for _, c := range live {
		if c.Made.Before(a.Since) {
			continue
		}
		_, values, err := s.club.kept.codec.Decode(c.Data)
		if err != nil {
			return nil, err
		}
		one := sessionListed{ID: c.ID, Began: c.Made, Used: c.Made, Expires: c.Expires, Here: string(c.ID) == s.club.sessions.GetString(ctx, "id")}
		if used, ok := values["used"].(int64); ok {
			one.Used = time.Unix(0, used).UTC()
		}
		if one.Device, _ = values["device"].(string); one.Device == "" {
			one.Device = "a device"
		}
		out = append(out, one)
	}
	return out, err
}

// endSession ends one of the visitor's sessions, for a phone that was lost.
func (s *server) endSession(ctx context.Context, in *IDInput) (*done, error) {
	a, err := s.myAccount(ctx, confirmed)
	if err != nil {
		return nil, err
	}
	live, err := s.sessionBy(ctx, a.Person, notebook.ID(in.ID))
	switch {
	case err != nil:
		return nil, err
	case live.ID != "" && in.ID == s.club.sessions.GetString(ctx, "id"):
		return wasDone(), s.club.sessions.Destroy(ctx)
	case live.ID != "":
		return wasDone(), s.club.kept.end(ctx, live.Hash)
	}
	return nil, &notebook.Error{Code: notebook.NotFound, Message: "there is no such session of yours", Hint: "it may have ended already; look at the list again"}
}

// sessionBy is a person's session with that id, zero if there is none.
func (s *server) sessionBy(ctx context.Context, person, id notebook.ID) (none notebook.Credential, err error) {
	live, err := s.club.accounts.Credentials(ctx, notebook.SessionCredential, person, s.Now())
	for _, c := range live {
		if c.ID == id {
			return c, err
		}
	}
	return none, err
}

// deviceOf says in two words what asks, by what browsers tell of themselves.
// Their own text, which tells devices apart, is not kept.
func deviceOf(r *http.Request) string {
	agent := r.UserAgent()
	first := func(of ...string) string {
		for i := 0; i < len(of); i += 2 {
			if strings.Contains(agent, of[i]) {
				return of[i+1]
			}
		}
		return ""
	}
	browser := first("Edg", "Edge", "OPR/", "Opera", "SamsungBrowser", "Samsung Internet", "Firefox", "Firefox", "FxiOS", "Firefox", "CriOS", "Chrome", "Chrome", "Chrome", "Safari", "Safari")
	system := first("iPhone", "iPhone", "iPad", "iPad", "Android", "Android", "Windows", "Windows", "Macintosh", "Mac", "CrOS", "Chromebook", "Linux", "Linux")
	switch {
	case browser == "":
		return "a program"
	case system == "":
		return browser
	}
	return browser + " on " + system
}
