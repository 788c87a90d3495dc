package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// The database of every past version is kept as it was written then, beside
// the records it holds. -fixture writes the one of the present version; it is
// done once, when a version is published, and never again.
var fixture = flag.String("fixture", "", "write testdata/v`VERSION` with the migrations up to it")

func writeFixture(t *testing.T, version string) {
	dir := filepath.Join("testdata", "v"+version)
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("%s is there already and stays as it is", dir)
	}
	s, x := filled(t)
	oddly(t, s, x)
	var records bytes.Buffer
	if err := s.writeRecords(context.Background(), s.read, &records); err != nil {
		t.Fatal(err)
	}
	raw := knownTo(version, records.Bytes())
	// an empty notebook of that version takes the records in; one older than the
	// program can import into goes down again from there
	old := t.TempDir()
	upTo := migrationsTo(t, max(version, importsSince))
	file := lite{filepath.Join(old, databaseName)}
	places, err := makeFolders(old, file)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { fatal(t, places.close()) }()
	o := &Store{dir: old, files: places, engine: file, now: s.now, lock: &lock{}}
	if o.write, err = openSQLite(filepath.Join(old, databaseName), writer); err != nil {
		t.Fatal(err)
	}
	if err := o.migrate(context.Background(), upTo); err != nil {
		t.Fatal(err)
	}
	o.read = o.write
	o.tables()
	o.blobs = blobs{store: o, files: places.sounds}
	sound := filepath.Join(s.dir, recordingsDir)
	from := fstest.MapFS{recordsName: &fstest.MapFile{Data: raw}}
	sounds, err := os.ReadDir(sound)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range sounds {
		raw, err := os.ReadFile(filepath.Join(sound, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		from[recordingsDir+"/"+f.Name()] = &fstest.MapFile{Data: raw}
	}
	if r, err := o.Import(context.Background(), from, ImportOptions{}); err != nil || !r.Done {
		t.Fatalf("%+v, %v", r, err)
	}
	for _, f := range slices.Backward(slices.Sorted(maps.Keys(upTo))) {
		if n := filepath.Base(f)[4:5]; n > version {
			_, down, _ := strings.Cut(string(upTo[f].Data), "-- +goose Down")
			if _, err := o.write.Exec(down + "; DELETE FROM goose_db_version WHERE version_id = " + n); err != nil {
				t.Fatal(err)
			}
		}
	}
	if version >= fmt.Sprint(accountsSince) {
		fixtureAccounts(t, o, x.Person.ID)
	}
	if err := o.write.Close(); err != nil {
		t.Fatal(err)
	}
	copyFiles(t, old, dir)
	if err := os.WriteFile(filepath.Join(dir, recordsName), raw, 0o644); err != nil {
		t.Fatal(err)
	}
}

// migrationsTo are the migrations up to a version.
func migrationsTo(t *testing.T, version string) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if filepath.Base(f)[:5] > "0000"+version {
			continue
		}
		raw, err := fs.ReadFile(migrations, f)
		if err != nil {
			t.Fatal(err)
		}
		out[f] = &fstest.MapFile{Data: raw}
	}
	return out
}

// knownTo leaves out the records that a version had no table for.
func knownTo(version string, records []byte) (out []byte) {
	since := map[string]string{"end": "3", "onsets": "3", "fit": "3", "forecast": "3", "ruling": "3", "share": "4"}
	for line := range bytes.Lines(records) {
		var of struct{ Kind string }
		record := bytes.TrimSuffix(bytes.TrimSpace(line), []byte(",")) // or a bracket of the list
		if err := json.Unmarshal(record, &of); err == nil && version < since[of.Kind] {
			continue
		}
		out = append(out, line...)
	}
	return out
}

// placesOf opens a folder's places for a test.
func placesOf(t *testing.T, dir string) folders {
	t.Helper()
	f, err := seenFolders(dir)
	fatal(t, err)
	t.Cleanup(func() { fatal(t, f.close()) })
	return f
}

// copiedFile copies one file.
func copiedFile(from, to string) error {
	raw, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	return os.WriteFile(to, raw, 0o600)
}

// copyFiles copies the database and the sound files.
func copyFiles(t *testing.T, from, to string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(to, recordingsDir), 0o700); err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob(filepath.Join(from, recordingsDir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(names, filepath.Join(from, databaseName)) {
		rel, err := filepath.Rel(from, path)
		if err != nil {
			t.Fatal(err)
		}
		if err := copiedFile(path, filepath.Join(to, rel)); err != nil {
			t.Fatal(err)
		}
	}
}

// oddly adds what people really write: scripts and signs of all kinds, long
// notes, values at the edge, the same thing twice, and second thoughts.
func oddly(t *testing.T, s *Store, x storetest.Sample) {
	t.Helper()
	ctx := context.Background()
	stamp := func() notebook.Stamp { return notebook.Stamp{ID: notebook.NewID(), By: x.Person.ID, At: storetest.At} }
	friend := notebook.Person{Stamp: stamp(), Name: "Žofie Ångström-O\u2019Nèill 弓道 \u05d3\u05e0\u05d9 e\u0301", Hand: notebook.LeftHanded, Role: notebook.CoachRole, Version: 1}
	if _, _, err := s.People().Put(ctx, x.Person.ID, friend); err != nil {
		t.Fatal(err)
	}
	if _, _, err := s.Shares().Put(ctx, x.Person.ID, notebook.Share{Stamp: stamp(), Archer: x.Person.ID, With: friend.ID, May: notebook.MayRead}); err != nil {
		t.Fatal(err)
	}
	notes := []string{
		strings.Repeat("a long evening, wind from the left; ", 55), "tab\tand\nnew lines\r\n\n", `{"kind":"reading","record":{}}`, "'; DROP TABLE readings; --",
		"\u200d\ufeff\u202eflip \U0001F3F9", "</script><b>", "1E5", "0x1F", "NULL", " leading and trailing ",
	}
	for i, note := range notes {
		r := x.Reading
		r.Stamp, r.Note, r.Repeat = stamp(), note, i+2
		r.At = r.At.Add(time.Duration(i)*time.Hour + 1) // a nanosecond more: the finest that is kept
		if _, _, err := s.Readings().Put(ctx, x.Person.ID, r); err != nil {
			t.Fatalf("%q: %v", note, err)
		}
		if i%3 == 0 { // taken out of sight; every other of these is brought back
			gone := notebook.Retraction{Stamp: stamp(), Target: r.ID, Reason: note}
			back := notebook.Retraction{Stamp: stamp(), Target: gone.ID}
			for _, w := range []notebook.Retraction{gone, back}[:1+i/3%2] {
				if _, _, err := s.Retractions().Put(ctx, x.Person.ID, w); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// importsSince is the version from which on this program imports into a
// notebook that it does not bring up to date.
const importsSince = "5"

// accountsSince is the version from which on a fixture holds accounts.
const accountsSince = 5

// Of the fixture's account; its secrets open nothing.
const (
	fixtureLogin = "žofie"
	fixtureHash  = "5feceb66ffc86f38d952786c6d696c79c2dbc239dd4e91b46729d73a27fb57e9" // SHA-256 of "0"
)

var fixtureUntil = time.Date(2199, 1, 1, 0, 0, 0, 0, time.UTC)

// fixtureAccounts adds what is beside the notebook: who may log in, a token
// and two lines of the log.
func fixtureAccounts(t *testing.T, s *Store, person notebook.ID) {
	t.Helper()
	ctx := context.Background()
	account := notebook.Account{Person: person, Login: fixtureLogin, Hash: "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", Made: storetest.At, Since: storetest.At}
	token := notebook.Credential{ID: notebook.NewID(), Kind: notebook.TokenCredential, Hash: fixtureHash, Person: person, Name: "scoreboard", May: notebook.MayRead, Made: storetest.At, Expires: fixtureUntil}
	if err := errors.Join(s.SaveAccount(ctx, account), s.SaveCredential(ctx, token), s.Note(ctx,
		notebook.AuditEntry{At: storetest.At, Actor: person, What: "login", From: "192.0.2.7", Status: 200},
		notebook.AuditEntry{At: storetest.At.Add(time.Second), What: "login", From: "2001:db8::7", Status: 401})); err != nil {
		t.Fatal(err)
	}
}

// checkFixtureAccounts: what is beside the notebook came through as well.
func checkFixtureAccounts(t *testing.T, s *Store) {
	t.Helper()
	ctx := context.Background()
	a, err := s.AccountFor(ctx, fixtureLogin)
	if err != nil || !a.Made.Equal(storetest.At) || !strings.HasPrefix(a.Hash, "$argon2id$") {
		t.Errorf("the account became %+v, %v", a, err)
	}
	c, err := s.CredentialBy(ctx, notebook.TokenCredential, fixtureHash, storetest.At)
	if err != nil || c.Name != "scoreboard" || c.May != notebook.MayRead || c.Person != a.Person || !c.Expires.Equal(fixtureUntil) {
		t.Errorf("the token became %+v, %v", c, err)
	}
	log, err := s.Log(ctx, 0, 10)
	if err != nil || len(log) != 2 || log[0].Status != 401 || log[1].Actor != a.Person || log[1].From != "192.0.2.7" {
		t.Errorf("the log became %+v, %v", log, err)
	}
}

// versionOf is the version of the database in a folder.
func versionOf(t *testing.T, dir string) (version int) {
	t.Helper()
	db, err := openSQLite(filepath.Join(dir, databaseName), reader)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.QueryRow("SELECT max(version_id) FROM goose_db_version").Scan(&version); err != nil {
		t.Fatal(err)
	}
	return version
}
