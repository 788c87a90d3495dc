package store

import (
	"archive/zip"
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// operation is something that is done with a notebook.
type operation struct {
	name string
	do   func(context.Context, *Store) error
}

// putting is the keeping of one record.
func putting[T notebook.Record](of func(*Store) notebook.Records[T], r T) operation {
	return operation{name: fmt.Sprintf("%T", r), do: func(ctx context.Context, s *Store) error {
		_, _, err := of(s).Put(ctx, r.Stamped().By, r)
		return err
	}}
}

// T24 (Yuan, OSDI 2014: nine of ten catastrophic failures came from errors that
// were signalled and handled wrongly): of what is done with an open
// notebook each call of the database is made to fail once, at every n. The error
// is told, in our words; the notebook is as before or as if nothing had failed;
// and done again it is as if nothing had failed.
func TestEveryCallFails(t *testing.T) {
	base := t.TempDir()
	s := open(t, base)
	c := newSmall(t, s)
	do := operations(t, s, c)
	fatal(t, s.Close())
	tried := 0
	for _, o := range do {
		t.Run(o.name, func(t *testing.T) { tried += everyCall(t, base, o) })
	}
	t.Logf("%d calls were made to fail", tried)
	if tried < 900 {
		t.Error("so few: is the database asked at all?")
	}
}

// everyCall makes each call of an operation fail and says how many there were.
func everyCall(t *testing.T, base string, o operation) (n int) {
	ctx, at, b := t.Context(), time.Now().Truncate(time.Second), breakable(t)
	begin := func() *Store {
		dir := t.TempDir()
		fatal(t, os.CopyFS(dir, os.DirFS(base)))
		s := open(t, dir)
		s.now = func() time.Time { return at }
		return s
	}
	s := begin()
	before := rowsOf(t, s)
	if err := o.do(ctx, s); err != nil {
		t.Fatal(err)
	}
	after := rowsOf(t, s)
	for n = 1; ; n++ {
		if before != after {
			fatal(t, s.Close())
			s = begin()
		}
		breaks(t, s, b, n)
		err := o.do(ctx, s)
		switch {
		case !b.fired && n == 1:
			t.Fatal("it asks nothing of the database")
		case !b.fired:
			return n - 1
		}
		told(t, fmt.Sprint("call ", n), err)
		if err := s.Writable(); err != nil {
			t.Errorf("call %d failed, and nothing is written any more: %v", n, err)
		}
		switch now := rowsOf(t, s); now {
		case before:
			if err := o.do(ctx, s); err != nil {
				t.Errorf("call %d failed; again: %v", n, err)
			}
			if now := rowsOf(t, s); now != after {
				t.Errorf("call %d failed, and done again it is not as after: %s", n, differs(after, now))
			}
		case after:
		default:
			t.Errorf("call %d failed, and the notebook is neither as before nor as after: %s", n, differs(before, now))
		}
		if t.Failed() {
			t.Fatal("it is enough")
		}
	}
}

// rowsOf is all that the database holds, as text.
func rowsOf(t *testing.T, s *Store) string {
	t.Helper()
	return rowsIn(t, s.engine.(lite).path)
}

func rowsIn(t *testing.T, path string) string {
	t.Helper()
	db, err := openSQLite(path, plain)
	fatal(t, err)
	defer db.Close()
	return allRows(t, db, "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
}

// allRows is all that the tables of a list hold.
func allRows(t *testing.T, db *sql.DB, list string) string {
	t.Helper()
	names, err := db.Query(list)
	fatal(t, err)
	var tables []string
	for names.Next() {
		var name string
		fatal(t, names.Scan(&name))
		tables = append(tables, name)
	}
	fatal(t, names.Close())
	var out strings.Builder
	for _, table := range tables {
		columns := "*"
		if table == gooseTable { // without when
			columns = "version_id, is_applied"
		}
		rows, err := db.Query("SELECT " + columns + " FROM " + table)
		fatal(t, err)
		names, err := rows.Columns()
		fatal(t, err)
		var lines []string
		for rows.Next() {
			cells := make([]any, len(names))
			for i := range cells {
				cells[i] = new(any)
			}
			fatal(t, rows.Scan(cells...))
			line := table
			for _, c := range cells {
				line += fmt.Sprintf("|%s", *c.(*any))
			}
			lines = append(lines, line)
		}
		fatal(t, rows.Close())
		slices.Sort(lines)
		out.WriteString(strings.Join(lines, "\n") + "\n")
	}
	return out.String()
}

// differs names the first line in which two texts differ.
func differs(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return fmt.Sprintf("%.300q, not %.300q", y[i], x[i])
		}
	}
	return fmt.Sprintf("%d lines, not %d", len(y), len(x))
}

// operations are what an open notebook is asked to do.
func operations(t *testing.T, s *Store, c small) []operation {
	t.Helper()
	ida, ben := c.ida.Person.ID, c.ben.Person.ID
	x := storetest.New()
	rest := storetest.RestOf(c.ben, c.ownFile, c.idas.Recording.Bytes)
	more := c.ben.Reading
	more.ID, more.Note = notebook.NewID(), "once more"
	person, bow := c.ben.Person, c.ben.Bow
	person.Version, person.Name, bow.Version, bow.Name = 2, "Ben O.", 2, "Ben's own"
	setup, trial := c.ben.SetUp, c.ben.Trial
	setup.ID, trial.ID = notebook.NewID(), notebook.NewID()
	onsets := c.idas.Onsets
	onsets.ID = notebook.NewID()
	account := notebook.Account{Person: ben, Login: "ben", Hash: "x", Made: storetest.At, Since: storetest.At}
	token := notebook.Credential{ID: notebook.NewID(), Kind: notebook.TokenCredential, Hash: "token", By: ben, Person: ben, Made: storetest.At, Expires: storetest.At.AddDate(9, 0, 0)}
	kept := func(k notebook.Credential) notebook.Credential {
		fatal(t, s.SaveCredential(t.Context(), k))
		return k
	}
	until := storetest.At.AddDate(9, 0, 0)
	comes := func(p notebook.Person, by string) notebook.Admission {
		link := kept(notebook.Credential{ID: notebook.NewID(), Kind: notebook.InvitationCredential, Hash: by, By: ben, Made: storetest.At, Expires: until})
		used := notebook.Credential{ID: notebook.NewID(), Kind: notebook.UsedCredential, Hash: "used " + by, By: ben, Person: p.ID, Made: storetest.At, Expires: until}
		recovery := notebook.Credential{ID: notebook.NewID(), Kind: notebook.RecoveryCredential, Hash: "recovery " + by, Person: p.ID, Made: storetest.At, Expires: until}
		return notebook.Admission{Person: p, Account: notebook.Account{Person: p.ID, Login: by, Hash: "x", Made: storetest.At, Since: storetest.At}, Invitation: link.ID, Used: &used, Recovery: &recovery}
	}
	coming, came := comes(x.Person, "zoe"), comes(storetest.New().Person, "yan")
	fatal(t, s.Admit(t.Context(), came))
	again := *came.Used
	again.Data = []byte("again")
	other := open(t, t.TempDir())
	storetest.PutAll(t, other, x)
	var file bytes.Buffer
	fatal(t, other.Export(t.Context(), &file))
	archive, err := zip.NewReader(bytes.NewReader(file.Bytes()), int64(file.Len()))
	fatal(t, err)
	seen := func(find func(context.Context, *Store) (int, error)) func(context.Context, *Store) error {
		return func(ctx context.Context, s *Store) error {
			n, err := find(ctx, s)
			if err == nil && n == 0 {
				return errors.New("nothing was found")
			}
			return err
		}
	}
	return []operation{
		putting((*Store).People, x.Person), putting((*Store).Bows, x.Bow), putting((*Store).SetUps, setup), putting((*Store).Trials, trial), putting((*Store).Readings, more),
		putting((*Store).Sessions, rest.Session), putting((*Store).Recordings, rest.Recording), putting((*Store).Events, rest.Event), putting((*Store).Verdicts, rest.Verdict),
		putting((*Store).Ends, rest.End), putting((*Store).Fits, rest.Fit), putting((*Store).Forecasts, rest.Forecast), putting((*Store).Rulings, rest.Ruling),
		putting((*Store).Shares, rest.Share), putting((*Store).Retractions, rest.Retraction), putting((*Store).Onsets, onsets),
		{name: "a reading once more", do: putting((*Store).Readings, c.ben.Reading).do},
		{name: "a new version of a person", do: putting((*Store).People, person).do},
		{name: "a new version of a bow", do: putting((*Store).Bows, bow).do},
		{name: "get", do: func(ctx context.Context, s *Store) error {
			_, err := s.Bows().Get(ctx, ida, c.ida.Bow.ID)
			return err
		}},
		{name: "list", do: seen(func(ctx context.Context, s *Store) (int, error) {
			p, err := s.Readings().List(ctx, ida, notebook.Query{Bow: c.ida.Bow.ID})
			return len(p.Rows), err
		})},
		{name: "list of all, newest first", do: seen(func(ctx context.Context, s *Store) (int, error) {
			p, err := s.Readings().List(ctx, ida, notebook.Query{Newest: true, Limit: 2})
			return len(p.Rows), err
		})},
		{name: "belongings", do: seen(func(ctx context.Context, s *Store) (int, error) {
			b, err := s.Belongings(ctx, ida)
			return len(b), err
		})},
		{name: "export", do: func(ctx context.Context, s *Store) error { return s.Export(ctx, io.Discard) }},
		{name: "export into a folder", do: func(ctx context.Context, s *Store) error {
			return s.ExportFolder(ctx, filepath.Join(t.TempDir(), "to"))
		}},
		{name: "import", do: func(ctx context.Context, s *Store) error {
			r, err := s.Import(ctx, archive, ImportOptions{})
			if err == nil && len(r.Problems) > 0 {
				err = fmt.Errorf("it is said of a line: %v", r.Problems)
			}
			return err
		}},
		{name: "import as another", do: func(ctx context.Context, s *Store) error {
			r, err := s.Import(ctx, archive, ImportOptions{As: ida})
			if err == nil && len(r.Problems) > 0 {
				err = fmt.Errorf("it is said of a line: %v", r.Problems)
			}
			return err
		}},
		{name: "note in the log", do: func(ctx context.Context, s *Store) error {
			return s.Note(ctx, notebook.AuditEntry{At: storetest.At, Actor: ida, What: "looked"}, notebook.AuditEntry{At: storetest.At, Actor: ben, What: "looked"})
		}},
		{name: "erase", do: func(ctx context.Context, s *Store) error {
			_, err := s.Erase(ctx, ida)
			return err
		}},
		{name: "forget", do: func(ctx context.Context, s *Store) error {
			_, err := s.Forget(ctx, []notebook.ID{c.ida.Bow.ID})
			return err
		}},
		{name: "verify", do: func(ctx context.Context, s *Store) error {
			r, err := s.Verify(ctx)
			if err == nil && len(r.Problems) > 0 {
				err = &notebook.Error{Code: notebook.Damaged, Message: strings.Join(r.Problems, "; "), Hint: "it tells of problems"}
			}
			return err
		}},
		{name: "facts", do: func(ctx context.Context, s *Store) error {
			_, err := s.Facts(ctx)
			return err
		}},
		{name: "names", do: seen(func(ctx context.Context, s *Store) (int, error) {
			n, err := s.Names(ctx)
			return len(n), err
		})},
		{name: "account", do: func(ctx context.Context, s *Store) error {
			return s.SaveAccount(ctx, account)
		}},
		{name: "account by login", do: func(ctx context.Context, s *Store) error {
			_, err := s.AccountFor(ctx, "falkenstjerna")
			return err
		}},
		{name: "account of a person", do: func(ctx context.Context, s *Store) error {
			_, err := s.AccountOf(ctx, ida)
			return err
		}},
		{name: "change of an account", do: func(ctx context.Context, s *Store) error {
			_, err := s.ChangeAccount(ctx, ida, func(a *notebook.Account) bool { a.Codes = 3; return true })
			return err
		}},
		{name: "count of accounts", do: seen(func(ctx context.Context, s *Store) (int, error) { return s.CountAccounts(ctx) })},
		{name: "token", do: func(ctx context.Context, s *Store) error { return s.SaveCredential(ctx, token) }},
		{name: "admission", do: func(ctx context.Context, s *Store) error { return s.Admit(ctx, coming) }},
		{name: "admission once more", do: func(ctx context.Context, s *Store) error {
			return s.AdmitAgain(ctx, notebook.Readmission{Account: came.Account, Was: *came.Used, Now: again, Recovery: *came.Recovery})
		}},
		{name: "credentials", do: seen(func(ctx context.Context, s *Store) (int, error) {
			l, err := s.Credentials(ctx, notebook.InvitationCredential, "", storetest.At)
			return len(l), err
		})},
		{name: "end of a token", do: func(ctx context.Context, s *Store) error {
			return errors.Join(s.DropCredential(ctx, token.Hash), s.DropCredentials(ctx, notebook.RecoveryCredential, ida))
		}},
		{name: "note of an export", do: func(ctx context.Context, s *Store) error { return s.NoteExport(ctx) }},
		{name: "log", do: func(ctx context.Context, s *Store) error {
			_, err := s.Log(ctx, 0, 10)
			return err
		}},
	}
}
