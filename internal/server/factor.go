package server

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha1"
	"crypto/subtle"
	"encoding/base32"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"rsc.io/qr"

	"tautline/notebook"
)

// The second factor is a code of an authenticator app (TOTP, RFC 6238: SHA-1,
// six digits, 30 s, as every app reads it), or one of the codes printed when it
// was set up. It needs no e-mail and no network.
const (
	codeStep     = 30 // seconds
	codeDigits   = 6
	codeSlack    = 1 // steps that clocks may differ by, either way
	printedCodes = 8
	// shortestWithFactor is the least length of a password beside a second
	// factor (NIST SP 800-63B-4, 3.1.1.2: 8).
	shortestWithFactor = 8
	// ownerGrace is how long whoever is to have one may do without.
	ownerGrace = 7 * 24 * time.Hour
)

// plain32 is how apps read a secret.
var plain32 = base32.StdEncoding.WithPadding(base32.NoPadding)

// codeAt is the code of one time step (RFC 4226, 5.3; RFC 6238, 4.2).
func codeAt(secret []byte, step int64) string {
	mac := hmac.New(sha1.New, secret)
	_, _ = mac.Write(binary.BigEndian.AppendUint64(nil, uint64(step))) // a hash never fails
	sum := mac.Sum(nil)
	at := sum[len(sum)-1] & 0xf
	n := binary.BigEndian.Uint32(sum[at:at+4]) & 0x7fffffff
	return fmt.Sprintf("%0*d", codeDigits, n%1_000_000)
}

// newFactor makes a secret of 160 bits, the length RFC 4226 (4, R6) recommends.
func newFactor() string {
	b := make([]byte, 20)
	_, _ = rand.Read(b) // never fails (crypto/rand)
	return plain32.EncodeToString(b)
}

// factorView is a second factor on the way in: what the app scans or types.
type factorView struct {
	Secret  string `json:"secret" doc:"Shown once, for typing into an app." example:"JBSWY3DPEHPK3PXP"`
	Address string `json:"address" doc:"The same as an address, for a link on a phone." example:"otpauth://totp/Tautline:ida?secret=JBSWY3DPEHPK3PXP&issuer=Tautline"`
	Picture string `json:"picture" doc:"The same to scan: a PNG as a data address." example:"data:image/png;base64,…"`
}

// beginFactor makes the secret of a second factor; it counts once a code of it
// was typed.
func (s *server) beginFactor(ctx context.Context, _ *noWishes) (*found[factorView], error) {
	a, err := s.myAccount(ctx, confirmed)
	if err != nil {
		return nil, err
	}
	next := newFactor()
	a, err = s.club.accounts.ChangeAccount(ctx, a.Person, func(a *notebook.Account) bool {
		a.Factor.Next = next
		return true
	})
	if err != nil {
		return nil, err
	}
	view := factorView{Secret: a.Factor.Next, Address: addressFor(a.Login, a.Factor.Next)}
	view.Picture, err = pictureOf(view.Address)
	return &found[factorView]{Body: view}, err
}

func addressFor(login, secret string) string {
	q := url.Values{"secret": {secret}, "issuer": {"Tautline"}}
	return "otpauth://totp/Tautline:" + url.PathEscape(login) + "?" + q.Encode()
}

// pictureOf draws an address as a QR code.
func pictureOf(address string) (string, error) {
	code, err := qr.Encode(address, qr.M)
	if err != nil {
		return "", err
	}
	code.Scale = 6
	return "data:image/png;base64," + base64.StdEncoding.EncodeToString(code.PNG()), nil
}

// factorCode is a code typed from an app.
type factorCode struct {
	Body struct {
		Code string `json:"code" maxLength:"100" example:"123456"`
	}
}

// factorKept shows the printed codes.
type factorKept struct {
	Account accountView `json:"account"`
	Codes   []string    `json:"codes" nullable:"false" doc:"Shown once. Each stands in for the app once: print them." example:"[\"KQ4M-2XVA-7TNE-LD3R\"]"`
}

// keepFactor turns the second factor on, once a code shows that the app has it.
func (s *server) keepFactor(ctx context.Context, in *factorCode) (*found[factorKept], error) {
	a, err := s.myAccount(ctx, confirmed)
	if err != nil {
		return nil, err
	}
	codes, kept := newPrinted()
	right := false
	a, err = s.club.accounts.ChangeAccount(ctx, a.Person, func(a *notebook.Account) bool {
		right = turnOn(&a.Factor, in.Body.Code, kept, s.Now())
		return right
	})
	if err != nil {
		return nil, err
	}
	if !right {
		return nil, refuse(FieldError{"/code", codeInvalid, "this is not the code that the app should show now", "wait for the next one, and check that the phone's clock is right"})
	}
	if err := s.club.accounts.DropCredentials(ctx, notebook.UsedCredential, a.Person); err != nil {
		return nil, err
	}
	account, err := s.viewAccount(ctx, a.Person)
	if err != nil {
		return nil, err
	}
	return &found[factorKept]{Body: factorKept{account.Body, codes}}, nil
}

// turnOn makes the secret that was shown the second factor. The code that did
// may come again while it is good, from whom the answer with the printed codes
// did not reach: the new ones then replace them.
func turnOn(f *notebook.Factor, typed string, printed []string, now time.Time) bool {
	if step, right := usedStep(f.Next, typed, 0, now); right {
		*f = notebook.Factor{Secret: f.Next, Step: step, Printed: printed}
		return true
	}
	step, right := usedStep(f.Secret, typed, f.Step-1, now)
	if right = right && f.Next == "" && step == f.Step; right {
		f.Printed = printed
	}
	return right
}

// newPrinted makes the codes that stand in for the app, and what is kept of them.
func newPrinted() (codes, kept []string) {
	for range printedCodes {
		code := newCode(10)
		codes, kept = append(codes, code), append(kept, hashOf(plainCode(code)))
	}
	return codes, kept
}

// dropFactor turns the second factor off.
func (s *server) dropFactor(ctx context.Context, _ *struct{}) (*found[accountView], error) {
	a, err := s.myAccount(ctx, confirmed)
	if err != nil {
		return nil, err
	}
	if a.Factor.Short {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "your password is too short to stand alone", Hint: "choose one of at least 15 characters first, then turn the second factor off"}
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	if s.needsFactor(ctx, me, a) {
		return nil, &notebook.Error{Code: notebook.NotAllowed, Message: "this login keeps its second factor: an owner's does, and everyone's where the club asks for it", Hint: "set it up anew for another phone instead"}
	}
	_, err = s.club.accounts.ChangeAccount(ctx, a.Person, func(a *notebook.Account) bool {
		a.Factor = notebook.Factor{}
		return true
	})
	if err != nil {
		return nil, err
	}
	if err := s.club.accounts.DropCredentials(ctx, notebook.UsedCredential, a.Person); err != nil {
		return nil, err
	}
	return s.viewAccount(ctx, a.Person)
}

// usedStep finds the time step whose code was typed, later than the last one
// used, so that a code that was looked at over a shoulder is worth nothing.
func usedStep(secret, typed string, last int64, now time.Time) (int64, bool) {
	typed = strings.Join(strings.Fields(typed), "")
	key, err := plain32.DecodeString(secret)
	if err != nil || secret == "" || len(typed) != codeDigits {
		return 0, false
	}
	for step := now.Unix()/codeStep - codeSlack; step <= now.Unix()/codeStep+codeSlack; step++ {
		if step > last && subtle.ConstantTimeCompare([]byte(typed), []byte(codeAt(key, step))) == 1 {
			return step, true
		}
	}
	return 0, false
}

// second looks at the code of a second factor, and uses it up; an account
// without one needs none. After too many wrong ones in a row only a printed
// code is taken, which is too long to be guessed.
func (s *server) second(ctx context.Context, a notebook.Account, typed string) (right bool, err error) {
	if a.Factor.Secret == "" || strings.TrimSpace(typed) == "" {
		return a.Factor.Secret == "", nil
	}
	app := s.club.guesses.take(a, wrongCodes) <= mostCodes
	_, err = s.club.accounts.ChangeAccount(ctx, a.Person, func(a *notebook.Account) bool {
		right = useCode(&a.Factor, typed, app, s.Now())
		return right
	})
	switch {
	case err != nil:
		return false, err
	case right:
		s.club.guesses.takeBack(a.Person, wrongCodes)
	default:
		s.club.guesses.keep(a.Person)
	}
	return right, nil
}

// useCode uses a code up: of the app, if that is taken, or a printed one.
func useCode(f *notebook.Factor, typed string, app bool, now time.Time) bool {
	if step, ok := usedStep(f.Secret, typed, f.Step, now); ok && app {
		f.Step = step
		return true
	}
	at := slices.Index(f.Printed, hashOf(plainCode(typed)))
	if at < 0 {
		return false
	}
	f.Printed = slices.Delete(f.Printed, at, at+1)
	return true
}

// askCode asks for the second factor, after a right password.
func askCode() error {
	return newProblem(401, codeSecond, "Password right; the code of the second factor is asked for.", "Type the six digits that your authenticator app shows, or one of the printed codes.")
}

// asksFactor reports who is to have a second factor: an owner, or everyone.
func (s *server) asksFactor(p notebook.Person) bool {
	return p.Role == notebook.OwnerRole || s.FactorForAll
}

// needsFactor reports who can do without a second factor no longer: it is asked
// of them, others are in the notebook, and a week has gone by.
func (s *server) needsFactor(ctx context.Context, p notebook.Person, a notebook.Account) bool {
	if !s.asksFactor(p) || s.Now().Sub(a.Made) < ownerGrace {
		return false
	}
	n, err := s.club.accounts.CountAccounts(ctx)
	return err != nil || n > 1
}
