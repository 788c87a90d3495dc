package server

import (
	"context"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"github.com/trustelem/zxcvbn"

	"tautline/notebook"
)

// Lengths of a password in characters (NIST SP 800-63B-4, 3.1.1.2: at least 15
// where it is the only factor, at least 64 allowed, no rules of composition).
const (
	shortestPassword = 15
	longestPassword  = 256
)

// hashing is argon2id with 19 MiB and two passes (OWASP's least, recalled),
// which takes some 30 ms of one core.
var hashing = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// nobodysHash is compared when a login does not exist, so that the answer
// takes as long as for one that does.
var nobodysHash = func() string {
	h, err := argon2id.CreateHash("nobody has this password", hashing)
	if err != nil {
		panic("server: " + err.Error())
	}
	return h
}()

// ourWords are what people near this program would choose first.
var ourWords = []string{"tautline", "recurve", "archery", "archer", "arrow", "arrows", "bow", "bowstring", "brace", "tiller", "nocking", "bullseye", "goldgoldgold", "club", "coach"}

// hasher hashes a few passwords at a time, because each takes memory.
type hasher struct{ places chan struct{} }

func newHasher() hasher { return hasher{make(chan struct{}, 4)} }

func (h hasher) enter(ctx context.Context) error {
	select {
	case h.places <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (h hasher) hash(ctx context.Context, password string) (string, error) {
	if err := h.enter(ctx); err != nil {
		return "", err
	}
	defer func() { <-h.places }()
	return argon2id.CreateHash(password, hashing)
}

func (h hasher) right(ctx context.Context, password, hash string) (bool, error) {
	if err := h.enter(ctx); err != nil {
		return false, err
	}
	defer func() { <-h.places }()
	return argon2id.ComparePasswordAndHash(password, hash)
}

// checkPassword refuses what is too short, or guessed early: passwords that
// were stolen elsewhere, words, names, rows of keys and repetitions, by the
// estimate of zxcvbn over its lists. least is the least length, near are words
// about this person.
func checkPassword(password string, least int, near ...string) error {
	n := utf8.RuneCountInString(password)
	bad := func(message, hint string) error {
		return &notebook.Error{Code: notebook.Invalid, Field: "/password", Message: message, Hint: hint}
	}
	switch {
	case !utf8.ValidString(password) || n > longestPassword:
		return bad("the password is longer than can be kept, or is no text", fmt.Sprintf("at most %d characters", longestPassword))
	case n < least:
		return bad(fmt.Sprintf("the password has %d characters", n), fmt.Sprintf("at least %d, such as four unusual words; a password manager helps", least))
	}
	const looked = 100 // the estimate takes long on more, and what follows only helps
	guess := zxcvbn.PasswordStrength(string([]rune(password)[:min(n, looked)]), append(nearWords(near), ourWords...))
	if guess.Score < 3 {
		return bad("the password is among those that are guessed first", "four words that have nothing to do with each other; not a name, a row of keys or a repetition")
	}
	return nil
}

// nearWords splits names and logins into words.
func nearWords(near []string) (out []string) {
	for _, n := range near {
		out = append(out, strings.FieldsFunc(strings.ToLower(n), func(r rune) bool { return strings.ContainsRune(" .-_@", r) })...)
	}
	return out
}
