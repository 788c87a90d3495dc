package cli

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"tautline/internal/store"
	"tautline/notebook"
)

// planted are words of people that may be anywhere: names with quotes, slashes
// and letters of other scripts, short ones, one that is a word of the log's
// own, logins, mail addresses, secrets, machines and places.
var planted = struct {
	people, bows, logins, others []string
}{
	people: []string{"Ida Falkenhorst", `Ben "the bolt" O'Sei`, "Łucja Żółć", "Ed", "Ωmega/Zeta", "a.b*c(d", "Failed Backupson"},
	bows:   []string{"Kestrel 68 of Ida's", "blue\tone", "C:\\bows\\wren", "=cmd|'/c calc'!A1", "<b>Heron</b>"},
	logins: []string{"ida.falk", "ben-osei", "zz"},
	others: []string{
		"ida@example.org", "9b2f6c1e0d8a4f7733aa55ee99bb11cc22dd33ee44ff55006677889900aabbcc", "K7x_Q2vB9-mN4pL8rT1wY6zA3cE5fG0hJ2kM4nP6qS8",
		"KQ4M-2XVA-7PLM-99XZ-BB4T-QQ2W", "192.168.17.23", "[2001:db8::17:9]:8443", "/home/ida/bows/tautline.db", "/srv/club of ida/x", `C:\Users\ida\bows`,
	},
}

// plantedBook is a notebook whose people, bows and log are full of them.
func plantedBook(t *testing.T) *store.Store {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "home of Ida Falkenhorst")
	s, err := store.Open(t.Context(), dir, store.Options{Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	for k, name := range planted.people {
		stamp := notebook.Stamp{ID: notebook.NewID(), At: time.Now().UTC()}
		stamp.By = stamp.ID
		if _, _, err := s.People().Put(t.Context(), stamp.ID, notebook.Person{Stamp: stamp, Name: name, Hand: notebook.RightHanded, Version: 1}); err != nil {
			t.Fatal(err)
		}
		if k < len(planted.logins) {
			a := notebook.Admission{Account: notebook.Account{Person: stamp.ID, Login: planted.logins[k], Hash: "none", Made: stamp.At, Since: stamp.At}}
			if err := s.SaveAccount(t.Context(), a.Account); err != nil {
				t.Fatal(err)
			}
		}
		if k < len(planted.bows) {
			bow := notebook.Stamp{ID: notebook.NewID(), At: stamp.At, By: stamp.ID}
			if _, _, err := s.Bows().Put(t.Context(), stamp.ID, notebook.Bow{Stamp: bow, Owner: stamp.ID, Name: planted.bows[k], Style: notebook.Recurve, Version: 1}); err != nil {
				t.Fatal(err)
			}
		}
	}
	return s
}

// The support file holds what helps, and no name, login, token, bow, mail
// address, machine or place of anybody (bars.md, section 4, item 9).
func TestSupportHoldsNoNames(t *testing.T) {
	s := plantedBook(t)
	file := openLog(s.Dir())
	log := (&terminal{err: discard{}}).logger(file, false)
	all := append(append(append(append([]string{}, planted.people...), planted.bows...), planted.logins...), planted.others...)
	for _, word := range all {
		log.Error("request failed", "code", "unavailable", "error", fmt.Errorf("reading %s of %s: broken pipe 42", word, word), "route", "GET /api/v1/bows/{id}")
		log.Error("panic", "fault", fmt.Sprintf("field %q", word), "stack", "tautline/internal/server.(*server).getBow\n\tmodernc.org/sqlite@v1.62.0/sqlite.go:12")
		log.Info("of "+strings.ToUpper(word), "why", map[string]string{"who": word})
	}
	log.Warn("nothing sealed", "why", "lane 3, said Ida to Ben")
	if _, err := file.Write([]byte("a torn line of Ida Falkenhorst\n")); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := supportOf(t.Context(), s, store.BackupsDir(s.Dir()))
	if err != nil {
		t.Fatal(err)
	}
	low := strings.ToLower(text)
	for _, word := range all {
		if word == "Ed" || word == "zz" {
			word = " " + word + " " // alone; it stands inside of other words
		}
		inJSON, err := json.Marshal(word)
		if err != nil {
			t.Fatal(err)
		}
		for _, form := range []string{word, strings.Trim(string(inJSON), `"`), strings.Trim(fmt.Sprintf("%q", word), `"`)} {
			if at := strings.Index(low, strings.ToLower(form)); at >= 0 {
				t.Errorf("it holds %q: …%s…", form, text[max(0, at-60):min(len(text), at+60)])
			}
		}
	}
	for _, wanted := range []string{"schema version 6", "7  people", "unavailable", "broken pipe 42", "GET /api/v1/bows/{id}", "getBow", "the notebook is open in process", "no automatic backup in BACKUPS"} {
		if !strings.Contains(text, wanted) {
			t.Errorf("it lacks %q", wanted)
		}
	}
	if at := regexp.MustCompile(`(?i)falkenhorst|osei|żółć|\bida\b|\bben\b`).FindStringIndex(text); at != nil {
		t.Errorf("it holds a part of a name: …%s…", text[max(0, at[0]-60):min(len(text), at[1]+60)])
	}
}

// discard takes all and keeps nothing.
type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }
