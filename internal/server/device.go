package server

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"net/http"
	"strings"
	"time"

	"tautline/notebook"
)

// A device on which somebody came in keeps a mark of it, so that strangers who
// guess at the account elsewhere cannot keep its person out. The mark opens
// nothing: it only lets the password be tried on. It is signed with a key that
// only the account's own password hash gives, so that nothing is stored of it
// and a new password makes all marks worthless.
const (
	markName   = "__Host-tautline-known"
	markTime   = 180 * 24 * time.Hour
	markAgain  = markTime / 2 // left: then it is given anew
	mostMarks  = 5            // of people who share a device
	markLength = 8 + sha256.Size
)

// marksOf are the marks that a request brings.
func marksOf(r *http.Request) string {
	c, err := r.Cookie(markName)
	if err != nil {
		return ""
	}
	return c.Value
}

// signMark makes the mark of an account that is good until a time.
func signMark(a notebook.Account, until time.Time) []byte {
	at := binary.BigEndian.AppendUint64(nil, uint64(until.Unix()))
	mac := hmac.New(sha256.New, []byte(a.Hash))
	_, _ = mac.Write(append([]byte("device of "+a.Person+" until "), at...)) // a hash never fails
	return mac.Sum(at)
}

// markUntil is until when an account knows a device by one of its marks; zero
// if it does not.
func markUntil(a notebook.Account, marks string) time.Time {
	if a.Person == "" {
		return time.Time{}
	}
	for mark := range strings.SplitSeq(marks, ".") {
		b, err := base64.RawURLEncoding.DecodeString(mark)
		if err != nil || len(b) != markLength {
			continue
		}
		until := time.Unix(int64(binary.BigEndian.Uint64(b)), 0)
		if hmac.Equal(b, signMark(a, until)) {
			return until
		}
	}
	return time.Time{}
}

// marked reports whether a device was let in for an account.
func marked(a notebook.Account, marks string, now time.Time) bool {
	return markUntil(a, marks).After(now)
}

// markDevice gives the device on which a person came in its mark.
func (s *server) markDevice(ctx context.Context, person notebook.ID) error {
	who, now := visitorOf(ctx), s.Now()
	a, err := s.club.accounts.AccountOf(ctx, person)
	if err != nil || markUntil(a, who.marks).Sub(now) > markAgain {
		return err
	}
	marks := []string{base64.RawURLEncoding.EncodeToString(signMark(a, now.Add(markTime)))}
	for mark := range strings.SplitSeq(who.marks, ".") { // of others on this device; one's own of before are among them
		if mark != "" && len(marks) < mostMarks {
			marks = append(marks, mark)
		}
	}
	*who.mark = strings.Join(marks, ".")
	return nil
}

// markCookie keeps marks on a device.
func markCookie(marks string) *http.Cookie {
	return &http.Cookie{Name: markName, Value: marks, Path: "/", MaxAge: int(markTime.Seconds()), HttpOnly: true, Secure: true, SameSite: http.SameSiteLaxMode}
}
