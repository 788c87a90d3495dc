package store

import (
	"database/sql"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// The sums stand in the backups that people have: they may never come out
// otherwise. These are of the oldest fixture with all tables.
func TestSumsStayAsTheyWere(t *testing.T) {
	dir := t.TempDir()
	copyFiles(t, "testdata/v6", dir)
	raw, err := os.ReadFile("testdata/sums_v6.json")
	fatal(t, err)
	var want map[string]TableSum
	fatal(t, json.Unmarshal(raw, &want))
	db, err := openSQLite(filepath.Join(dir, databaseName), inspector)
	fatal(t, err)
	have, err := tableSums(t.Context(), lite{}, db)
	fatal(t, errors.Join(err, db.Close()))
	if table := differ(want, have); table != "" || len(want) < 15 {
		t.Errorf("%d tables; %s sums to %+v, in old backups to %+v", len(want), table, have[table], want[table])
	}
}

// A cell is summed as the driver's own text of it, which is how the first
// backups were summed.
func TestCellsAreSummedAsTheirText(t *testing.T) {
	s := open(t, t.TempDir())
	for _, cell := range []string{"NULL", "''", "'a''b ü'", "0", "-12", "9223372036854775807", "0.1", "5.0", "1e-7", "-2.5e21", "1e300", "x'00ff'"} {
		var raw sql.RawBytes
		var value any
		rows, err := s.read.Query("SELECT 'not the first of a row', " + cell + ", " + cell)
		fatal(t, err)
		if !rows.Next() {
			t.Fatal(rows.Err())
		}
		fatal(t, rows.Scan(new(sql.RawBytes), &raw, &value))
		want := "-"
		if raw != nil {
			want = strconv.Itoa(len(raw)) + ":" + string(raw)
		}
		if have := string(appendCell(nil, value)); have != want {
			t.Errorf("%s (%T) is summed as %q, not as %q", cell, value, have, want)
		}
		fatal(t, rows.Close())
	}
}
