package store

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
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
