package store

import (
	"context"
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
