package store

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"tautline/internal/drill/ways"
	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// tricks are the ways out as they are spelled, and as a careless reader would
// have decoded them, with what names of files can do beside that.
func tricks(t *testing.T) (out []string) {
	t.Helper()
	seen := map[string]bool{}
	add := func(name string) {
		if !seen[name] {
			seen[name], out = true, append(out, name)
		}
	}
	for _, way := range ways.Out() {
		add(way)
		if plain, err := url.PathUnescape(way); err == nil {
			add(plain)
			add(strings.ReplaceAll(plain, `\`, "/"))
		}
	}
	for _, name := range []string{"/etc/passwd", "//etc/passwd", "", ".", "..", "a/../../b", `C:\lock`, "CON", strings.Repeat("0", 64) + "/../../lock", strings.Repeat("A", 64), strings.Repeat("0", 63) + "\n", strings.Repeat("../", 40) + "etc/passwd"} {
		add(name)
	}
	if len(out) < 200 {
		t.Fatalf("only %d tricks", len(out))
	}
	return out
}

// around is every file below a folder but those below some, by path and
// content; what is a link is named with where it leads.
func around(t *testing.T, top string, but ...string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		for _, dir := range but {
			if path == dir {
				return fs.SkipDir
			}
		}
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		sum := sha256.Sum256(raw)
		out[path] = hex.EncodeToString(sum[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sameAround(t *testing.T, what string, was, is map[string]string) {
	t.Helper()
	for path, sum := range is {
		if was[path] != sum {
			t.Errorf("%s: %s was written", what, path)
		}
	}
	if len(is) != len(was) {
		t.Errorf("%s: %d files around, %d before", what, len(is), len(was))
	}
}

// deep is a notebook so deep in a folder that seven steps up stay in it.
func deep(t *testing.T, name string) (top, dir string) {
	top = t.TempDir()
	dir = filepath.Join(top, "a", "b", "c", "d", "e", "f", name)
	fatal(t, os.MkdirAll(dir, 0o700))
	for up := filepath.Dir(dir); len(up) >= len(top); up = filepath.Dir(up) { // what a way out would find
		fatal(t, os.MkdirAll(filepath.Join(up, "etc"), 0o700))
		for _, target := range []string{"etc/passwd", "notebook.db", "lock"} {
			fatal(t, os.WriteFile(filepath.Join(up, target), []byte("not the notebook's"), 0o600))
		}
	}
	return top, dir
}

// T21: no name leads out of the notebook's folder, whichever door it comes by:
// a sound file asked for, an export read in, a backup restored.
func TestNoNameLeadsOut(t *testing.T) {
	ctx := t.Context()
	top, dir := deep(t, "notebook")
	s, x := open(t, dir), storetest.New()
	storetest.PutAll(t, s, x)
	was := around(t, top, dir)
	lines := []string{}
	for i, trick := range tricks(t) {
		if _, err := s.Blobs().Open(ctx, trick); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("asked for %q: %v", trick, err)
		}
		export := filepath.Join(t.TempDir(), "bows.zip")
		zipped(t, export, "recordings/"+trick)
		if _, err := s.ImportPath(ctx, export, ImportOptions{KeepGood: true}); notebook.CodeOf(err) != notebook.Invalid {
			t.Errorf("an export with %q: %v", trick, err)
		}
		record, err := json.Marshal(notebook.Recording{Stamp: notebook.Stamp{ID: notebook.NewID(), By: x.Person.ID, At: storetest.At}, Hash: trick, Bytes: int64(i + 1)})
		fatal(t, err)
		lines = append(lines, `{"kind":"recording","record":`+string(record)+`}`)
	}
	unpacked := filepath.Join(top, "a", "b", "c", "d", "e", "f", "unpacked")
	fatal(t, os.Mkdir(unpacked, 0o700))
	fatal(t, os.WriteFile(filepath.Join(unpacked, recordsName), []byte("[\n"+strings.Join(lines, ",\n")+"\n]\n"), 0o600))
	r, err := s.ImportPath(ctx, unpacked, ImportOptions{KeepGood: true})
	if err != nil || len(r.Problems) != len(lines) || len(r.Added) > 0 {
		t.Errorf("records with such hashes: %d problems of %d, %v, %v", len(r.Problems), len(lines), r.Added, err)
	}
	sameAround(t, "the doors", was, around(t, top, dir, unpacked))
}

func zipped(t *testing.T, path, name string) {
	t.Helper()
	f, err := os.Create(path)
	fatal(t, err)
	z := zip.NewWriter(f)
	w, err := z.Create(name)
	fatal(t, err)
	if !strings.HasSuffix(name, "/") {
		_, err = w.Write([]byte("twang"))
		fatal(t, err)
	}
	fatal(t, z.Close())
	fatal(t, f.Close())
}

// A backup that was made to do harm, with every sum right: its records name
// sound files outside, which are there to be taken or replaced.
func TestRestoredNamesLeadNowhere(t *testing.T) {
	bothEngines(t, func(t *testing.T, target *Store, o Options) {
		ctx := t.Context()
		top, dir := deep(t, "backup")
		fatal(t, os.Remove(dir))
		from, x := filled(t)
		if _, err := from.Backup(ctx, dir, BackupOptions{}); err != nil {
			t.Fatal(err)
		}
		names := tricks(t)
		corrupt(t, dir, x.Person.ID, names)
		fatal(t, target.Close())
		home := filepath.Join(filepath.Dir(dir), "home")
		if o.Database == "" {
			fatal(t, os.Mkdir(home, 0o700))
		} else {
			home = target.Dir()
		}
		was, wasHome := around(t, top, home), around(t, filepath.Dir(target.Dir()), target.Dir(), home)
		r, err := Restore(ctx, dir, home, o)
		sameAround(t, "a restore", was, around(t, top, home))
		sameAround(t, "a restore", wasHome, around(t, filepath.Dir(target.Dir()), target.Dir(), home))
		sounds, bad := os.ReadDir(filepath.Join(home, recordingsDir))
		fatal(t, bad)
		for _, e := range sounds {
			if !isHash(e.Name()) {
				t.Errorf("%s lies among the recordings", e.Name())
			}
		}
		if err != nil {
			t.Fatalf("refused only at the end: %v", err)
		}
		if r.Report == nil || len(r.Report.Problems) < mostProblems { // of which no more are listed
			t.Errorf("the report does not name the records that lead nowhere: %+v", r.Report)
		}
	})
}

// corrupt adds records to a backup that name sound files by any text, says that
// these were lost, and makes every sum right again.
func corrupt(t *testing.T, dir string, by notebook.ID, names []string) {
	t.Helper()
	ctx := t.Context()
	db, err := openSQLite(filepath.Join(dir, databaseName), plain)
	fatal(t, err)
	m, err := readManifest(dir)
	fatal(t, err)
	tx, err := db.Begin()
	fatal(t, err)
	for _, name := range names {
		if strings.ContainsRune(name, 0) || !utf8.ValidString(name) {
			continue
		}
		id := notebook.NewID()
		body, err := json.Marshal(notebook.Recording{Stamp: notebook.Stamp{ID: id, By: by, At: storetest.At, Received: storetest.At}, Hash: name, Bytes: 5})
		fatal(t, err)
		_, err = tx.Exec("INSERT INTO recordings (id, version, by_person, at_utc, received_utc, bow, trial, sha256, size_bytes, body) VALUES ($1, 1, $2, $3, $3, '', '', $4, 5, $5)",
			string(id), string(by), stampTime(storetest.At), name, string(body))
		fatal(t, err)
		m.Lost = append(m.Lost, name)
	}
	fatal(t, tx.Commit())
	m.Tables, err = tableSums(ctx, lite{}, db)
	fatal(t, err)
	fatal(t, db.Close())
	root, err := openFolder(dir)
	fatal(t, err)
	m.Database, err = sumFile(ctx, root, databaseName)
	fatal(t, err)
	fatal(t, root.Remove(backupName))
	fatal(t, writeManifest(root, m))
	fatal(t, root.Close())
}

// A link that somebody laid where a sound file should be, or a copy, is not
// followed: what it leads to is not read, served, exported or backed up.
func TestLinksAreNotFollowed(t *testing.T) {
	ctx := t.Context()
	top, dir := deep(t, "notebook")
	s, x := open(t, dir), storetest.New()
	storetest.PutAll(t, s, x)
	secret := []byte("RIFF what is somebody else's")
	sum := sha256.Sum256(secret)
	hash := hex.EncodeToString(sum[:])
	fatal(t, os.WriteFile(filepath.Join(top, "secret"), secret, 0o600))
	rest := storetest.RestOf(x, hash, int64(len(secret)))
	put(t, s.Sessions(), rest.Session)
	put(t, s.Recordings(), rest.Recording)
	link := filepath.Join(dir, recordingsDir, hash)
	if err := os.Symlink(filepath.Join(top, "secret"), link); err != nil {
		t.Skipf("no links here: %v", err)
	}
	if f, err := s.Blobs().Open(ctx, hash); err == nil {
		t.Errorf("it is served: %v", f.Close())
	}
	if r, err := s.Verify(ctx); err != nil || len(r.Problems) != 1 {
		t.Errorf("%+v, %v", r.Problems, err)
	}
	to := filepath.Join(top, "backup")
	if m, err := s.Backup(ctx, to, BackupOptions{Beside: dir}); err != nil || len(m.Lost) != 1 {
		t.Errorf("lost: %v, %v", m.Lost, err)
	}
	if left, err := os.ReadDir(filepath.Join(to, recordingsDir)); err != nil || len(left) > 0 {
		t.Errorf("it is in the backup: %v, %v", left, err)
	}
	if err := s.ExportFolder(ctx, filepath.Join(top, "export")); err == nil {
		t.Error("it is exported")
	}
	elsewhere := filepath.Join(top, "elsewhere")
	fatal(t, os.Rename(to, elsewhere))
	fatal(t, os.Symlink(elsewhere, filepath.Join(dir, copiesDir, "before-version-99-x")))
	if _, err := manifestIn(s.files.copies, "before-version-99-x"); err == nil {
		t.Error("a copy elsewhere is taken for one of the notebook's")
	}
	// the folders themselves may lie where their owner wants them
	fatal(t, os.Remove(link))
	fatal(t, s.Close())
	big := filepath.Join(top, "big disk")
	fatal(t, os.Rename(filepath.Join(dir, recordingsDir), big))
	fatal(t, os.Symlink(big, filepath.Join(dir, recordingsDir)))
	s = open(t, dir)
	if got, _, err := s.Blobs().Add(ctx, strings.NewReader(string(secret)), 1000); err != nil || got != hash {
		t.Errorf("recordings on another disk: %s, %v", got, err)
	}
	if r, err := s.Verify(ctx); err != nil || len(r.Problems) > 0 || r.Recordings != 1 {
		t.Errorf("%+v, %v", r, err)
	}
	if err := s.ExportPerson(ctx, x.Person.ID, &strings.Builder{}); err != nil {
		t.Errorf("an export with recordings on another disk: %v", err)
	}
}
