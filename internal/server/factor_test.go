package server

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"tautline/notebook"
)

// Codes as in RFC 6238, appendix B (SHA-1; of its eight digits the last six),
// and RFC 4226, appendix D (read).
func TestCodesOfTheStandards(t *testing.T) {
	secret := []byte("12345678901234567890")
	for _, row := range []struct {
		seconds int64
		code    string
	}{
		{59, "287082"}, {1111111109, "081804"}, {1111111111, "050471"}, {1234567890, "005924"}, {2000000000, "279037"}, {20000000000, "353130"},
	} {
		if got := codeAt(secret, row.seconds/codeStep); got != row.code {
			t.Errorf("at %d s: %s, want %s", row.seconds, got, row.code)
		}
		typed := row.code[:3] + " " + row.code[3:]
		if _, ok := usedStep(plain32.EncodeToString(secret), typed, 0, time.Unix(row.seconds, 0)); !ok {
			t.Errorf("%s is refused at its time", typed)
		}
	}
	for i, code := range []string{"755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"} {
		if got := codeAt(secret, int64(i)); got != code {
			t.Errorf("count %d: %s, want %s", i, got, code)
		}
	}
}

// A code is good for its step and one to either side, once.
func TestCodesAreUsedUp(t *testing.T) {
	secret := newFactor()
	key, err := plain32.DecodeString(secret)
	if err != nil || len(key) != 20 {
		t.Fatal(len(key), err)
	}
	now := time.Unix(1_800_000_000, 0)
	step := now.Unix() / codeStep
	for off := int64(-3); off <= 3; off++ {
		_, ok := usedStep(secret, codeAt(key, step+off), 0, now)
		if want := off >= -1 && off <= 1; ok != want {
			t.Errorf("%d steps away: %v", off, ok)
		}
	}
	last, _ := usedStep(secret, codeAt(key, step), 0, now)
	if _, again := usedStep(secret, codeAt(key, step), last, now); again {
		t.Error("a code is good twice")
	}
	if _, ok := usedStep("", fmt.Sprintf("%06d", 0), 0, now); ok {
		t.Error("no secret, and a code is good")
	}
}

// ASVS 6.2.10, 6.4.2: an account holds no hint, no question and no day on which
// its password ends, and coming in asks for none.
func TestAccountsHoldNoHints(t *testing.T) {
	for kind, want := range map[reflect.Type]string{
		reflect.TypeFor[notebook.Account]():         "person login hash made since failed known codes factor",
		reflect.TypeFor[loginInput]().Field(0).Type: "login password code",
	} {
		var names []string
		for _, f := range reflect.VisibleFields(kind) {
			if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" {
				names = append(names, name)
			}
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("%v holds %s", kind, got)
		}
	}
}

// ASVS 11.2.2: a hash carries its method, so that a stronger one can take its
// place while those of before still count.
func TestHashesCarryTheirMethod(t *testing.T) {
	h := newHasher()
	for _, p := range []*argon2id.Params{hashing, {Memory: 8 * 1024, Iterations: 3, Parallelism: 2, SaltLength: 8, KeyLength: 16}} {
		hash, err := argon2id.CreateHash("quilt harbour sixteen lanterns", p)
		if err != nil {
			t.Fatal(err)
		}
		for password, want := range map[string]bool{"quilt harbour sixteen lanterns": true, "quilt harbour sixteen lantern": false} {
			if right, err := h.right(t.Context(), password, hash); err != nil || right != want {
				t.Errorf("%s: %v, %v", hash[:30], right, err)
			}
		}
	}
}
