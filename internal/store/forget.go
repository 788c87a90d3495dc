package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"tautline/notebook"
)

// apart is a place to ask from that leaves some bows, and all that belongs to
// them, out of what is dumped.
type apart struct {
	asker
	bows []notebook.ID
}

// without is the condition that leaves them out of a table, "" for none.
func without(from asker, table string) (string, []any) {
	a, ok := from.(apart)
	if !ok || len(a.bows) == 0 {
		return "", nil
	}
	condition := belongs(table, len(a.bows))
	if condition == "" {
		return "", nil
	}
	return " WHERE NOT (" + condition + ")", idArgs(a.bows)
}

func idArgs(ids []notebook.ID) []any {
	args := make([]any, len(ids))
	for i, id := range ids {
		args[i] = string(id)
	}
	return args
}

// byBow are the tables whose rows name their bow.
var byBow = []string{"setups", "sessions", "recordings", "trials", "readings", "ends", "fits", "forecasts", "shares"}

// belongs is the condition that a row of a table belongs to one of the bows
// $1 … $n: it is the bow, names it, belongs to its trial or recording, or is
// about any of these. Persons belong to no bow.
func belongs(table string, n int) string {
	marks := make([]string, n)
	for i := range marks {
		marks[i] = "$" + strconv.Itoa(i+1)
	}
	bows := "(" + strings.Join(marks, ", ") + ")"
	trials := "(SELECT id FROM trials WHERE bow IN " + bows + ")"
	recordings := "(SELECT id FROM recordings WHERE bow IN " + bows + " OR trial IN " + trials + ")"
	switch table {
	case "people":
		return ""
	case "bows":
		return "id IN " + bows
	case "recordings":
		return "bow IN " + bows + " OR trial IN " + trials
	case "trial_events", "verdicts":
		return "trial IN " + trials
	case "onsets":
		return "recording IN " + recordings
	case "rulings":
		return "target IN (" + things(n) + ")"
	case "retractions":
		about := things(n) + " UNION SELECT id FROM rulings WHERE target IN (" + things(n) + ")"
		return "target IN (" + about + ") OR target IN (SELECT id FROM retractions WHERE target IN (" + about + "))"
	}
	return "bow IN " + bows
}

// things lists every record of the bows that a ruling or retraction can be
// about.
func things(n int) string {
	parts := []string{"SELECT id FROM bows WHERE " + belongs("bows", n)}
	for _, table := range append([]string{"trial_events", "verdicts", "onsets"}, byBow...) {
		parts = append(parts, "SELECT id FROM "+table+" WHERE "+belongs(table, n))
	}
	return strings.Join(parts, " UNION ")
}

// Forget removes bows and everything that belongs to them, sound files
// included, as if they had never been: for the invented demo bows, which were
// never anybody's measurements. It gives how many rows went. What a person
// wrote down is never forgotten like this; it is retracted.
func (s *Store) Forget(ctx context.Context, bows []notebook.ID) (rows int64, err error) {
	if len(bows) == 0 {
		return 0, nil
	}
	if err := s.Writable(); err != nil {
		return 0, err
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return 0, translate(err, "nothing was removed")
	}
	defer func() {
		if err != nil {
			err = errors.Join(translate(err, "nothing was removed"), ignoreDone(tx.Rollback()))
			s.noteFailure(err)
		}
	}()
	args := idArgs(bows)
	hashes, err := texts(ctx, tx, "SELECT DISTINCT sha256 FROM recordings WHERE "+belongs("recordings", len(bows)), args)
	if err != nil {
		return 0, err
	}
	list := s.shelves()
	for i := range list {
		table := list[len(list)-1-i].table() // what refers goes before what it refers to
		condition := belongs(table, len(bows))
		if condition == "" {
			continue
		}
		done, err := tx.ExecContext(ctx, "DELETE FROM "+table+" WHERE "+condition, args...)
		if err != nil {
			return 0, err
		}
		n, err := done.RowsAffected()
		if err != nil {
			return 0, err
		}
		rows += n
	}
	if err := tx.Commit(); err != nil {
		return 0, err
	}
	return rows, s.dropUnnamed(ctx, hashes)
}

// texts reads a column of texts.
func texts(ctx context.Context, from asker, query string, args []any) (out []string, err error) {
	rows, err := from.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return nil, err
		}
		out = append(out, text)
	}
	return out, rows.Err()
}

// dropUnnamed removes sound files that no row names any more.
func (s *Store) dropUnnamed(ctx context.Context, hashes []string) error {
	for _, hash := range hashes {
		var named bool
		if err := s.write.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM recordings WHERE sha256 = $1)", hash).Scan(&named); err != nil {
			return translate(err, "a sound file was left behind; it is swept later")
		}
		if named {
			continue
		}
		if err := os.Remove(s.blobs.path(hash)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fileError(err)
		}
	}
	return nil
}
