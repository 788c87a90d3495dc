package store

import (
	"context"
	"errors"
	"testing"
	"time"

	"tautline/notebook"
)

// both runs a test on a SQLite notebook and on a PostgreSQL one.
func both(t *testing.T, do func(t *testing.T, s *Store)) {
	t.Helper()
	t.Run("sqlite", func(t *testing.T) { do(t, openWith(t, t.TempDir(), Options{})) })
	t.Run("postgres", func(t *testing.T) {
		s, _ := club(t)
		do(t, s)
	})
}

// T27: nothing changes or removes a line of the log of who did what, not even
// the program's own connection.
func TestLogOnlyGrows(t *testing.T) {
	both(t, func(t *testing.T, s *Store) {
		ctx := context.Background()
		entry := notebook.AuditEntry{At: time.Now(), Actor: notebook.NewID(), What: "POST /login", From: "192.0.2.7", Status: 200}
		if err := s.Note(ctx, entry, entry); err != nil {
			t.Fatal(err)
		}
		tries := []string{"UPDATE audit SET actor = ''", "DELETE FROM audit", "DELETE FROM audit WHERE seq = 1"}
		if _, sqlite := s.engine.(lite); sqlite {
			tries = append(tries, "INSERT OR REPLACE INTO audit (seq, at_utc, actor, what, target, from_address, status) VALUES (1, '', '', '', '', '', 0)")
		} else {
			tries = append(tries, "TRUNCATE audit")
		}
		for _, try := range tries {
			if _, err := s.write.ExecContext(ctx, try); err == nil {
				t.Errorf("%s: went through", try)
			}
		}
		log, err := s.Log(ctx, 0, 10)
		if err != nil || len(log) != 2 || log[1].What != entry.What || log[1].Actor != entry.Actor || log[1].From != entry.From {
			t.Errorf("the log is %+v, %v", log, err)
		}
	})
}

// T27: an export of all by whoever has the machine stands in the log of a
// notebook with accounts, which another program may have open; one person's
// notebook has no log.
func TestExportIsNoted(t *testing.T) {
	both(t, func(t *testing.T, s *Store) {
		ctx := t.Context()
		noted := func(want int) {
			t.Helper()
			seen, err := Look(ctx, s.dir, s.lookedAtBy())
			if err != nil {
				t.Fatal(err)
			}
			if err := errors.Join(seen.NoteExport(ctx), seen.Close()); err != nil {
				t.Fatal(err)
			}
			log, err := s.Log(ctx, 0, 10)
			if err != nil || len(log) != want || want > 0 && (log[0].What != exporting || log[0].From == "" || log[0].Actor != "" || log[0].Status != 200) {
				t.Errorf("the log is %+v, %v", log, err)
			}
		}
		noted(0)
		if err := s.SaveAccount(ctx, notebook.Account{Person: notebook.NewID(), Login: "ida", Hash: "none", Made: time.Now().UTC()}); err != nil {
			t.Fatal(err)
		}
		noted(1)
		noted(2)
	})
}

// lookedAtBy are the options under which another program reads a notebook.
func (s *Store) lookedAtBy() Options {
	if p, ok := s.engine.(postgres); ok {
		return Options{Database: p.config.ConnString()}
	}
	return Options{}
}
