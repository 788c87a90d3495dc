package store

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// D4 of the bars: a full disk loses nothing, leaves nothing half done, can be
// read and exported elsewhere, and goes on when there is room.
func TestFullDisk(t *testing.T) {
	dir, enlarge := smallDisk(t)
	ctx, x := context.Background(), storetest.New()
	s, err := Open(ctx, filepath.Join(dir, "notebook"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	gone := smallBow(t, s)
	storetest.PutAll(t, s, x)
	acked, refused := 2, error(nil)
	for range 20_000 {
		r := x.Reading
		r.ID, r.Note = notebook.NewID(), strings.Repeat("n", 4000)
		if _, _, refused = s.Readings().Put(ctx, x.Person.ID, r); refused != nil {
			break
		}
		acked++
	}
	if notebook.CodeOf(refused) != notebook.DiskFull {
		t.Fatalf("after %d readings: %v", acked, refused)
	}
	if _, _, err := s.Blobs().Add(ctx, bytes.NewReader(make([]byte, 2<<20)), 4<<20); notebook.CodeOf(err) != notebook.DiskFull {
		t.Errorf("a recording on a full disk gave %v", err)
	}
	if left, err := filepath.Glob(filepath.Join(dir, "notebook", recordingsDir, "*")); err != nil || len(left) != 1 { // the forgotten bow's
		t.Errorf("partial files were left: %v, %v", left, err)
	}
	if err := s.Writable(); err != nil {
		t.Errorf("a full disk stopped writing for good: %v", err)
	}
	if n := storetest.CountReadings(t, s); n != acked {
		t.Errorf("%d readings, %d were acknowledged", n, acked)
	}
	if err := s.Export(ctx, io.Discard); err != nil {
		t.Errorf("no export from a full disk: %v", err)
	}
	deletesOnFullDisk(t, s, x, gone, dir)
	enlarge()
	r := x.Reading
	r.ID = notebook.NewID()
	if _, _, err := s.Readings().Put(ctx, x.Person.ID, r); err != nil {
		t.Errorf("with room again: %v", err)
	}
	if report, err := s.Verify(ctx); err != nil || len(report.Problems) > 0 {
		t.Errorf("%v, %v", report.Problems, err)
	}
}

// smallDisk is a disk of 3 MB, which can be made one of 16.
func smallDisk(t *testing.T) (dir string, enlarge func()) {
	t.Helper()
	if os.Getuid() != 0 {
		t.Skip("only root can mount a small disk")
	}
	dir = t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("no small disk here: %v: %s", err, out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %v: %s", err, out)
		}
	})
	return dir, func() {
		t.Helper()
		if out, err := exec.Command("mount", "-o", "remount,size=16m", dir).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
}

// T27, D4: where the database cannot be written anew for want of room, who is
// erased is gone, the disk is not filled with the attempt, and it is finished
// once there is room.
func TestErasingOnASmallDisk(t *testing.T) {
	dir, enlarge := smallDisk(t)
	ctx := t.Context()
	s := open(t, filepath.Join(dir, "notebook"))
	c := newSmall(t, s)
	for {
		r := c.ben.Reading
		r.ID, r.Note = notebook.NewID(), strings.Repeat("n", 4000)
		put(t, s.Readings(), r)
		fatal(t, emptyJournal(ctx, s))
		file, err := s.files.own.Stat(databaseName)
		fatal(t, err)
		if free := s.Space().Free; free < file.Size()*9/10 {
			break
		}
	}
	before := s.Space().Free
	_, err := s.Erase(ctx, c.ida.Person.ID)
	var e *notebook.Error
	if !errors.As(err, &e) || e.Code != notebook.DiskFull || !strings.Contains(e.Message, "the records are gone; there is no room") || !strings.Contains(fmt.Sprint(e.Cause), "MB are needed") {
		t.Fatalf("erasing gave %v, because of %v", err, e.Cause)
	}
	if found := holding(t, c); found != nil {
		t.Errorf("the name is still in %v", found)
	}
	if after := s.Space().Free; after < before*9/10 {
		t.Errorf("%d kB were free, and %d are left", before>>10, after>>10)
	}
	if err := s.Writable(); err != nil {
		t.Errorf("it stopped the writing: %v", err)
	}
	note := erasing + string(c.ida.Person.ID)
	if _, err := s.files.own.Stat(note); err != nil {
		t.Errorf("nothing notes that it is not finished: %v", err)
	}
	enlarge()
	fatal(t, s.resumeErasing(ctx, false))
	if _, err := s.files.own.Stat(note); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("with room again the note: %v", err)
	}
	if found := holding(t, c); found != nil {
		t.Errorf("with room again the name is still in %v", found)
	}
}

// D4: what there is no room to import is told once, as the full disk that it is,
// not line by line, and nothing of it stays.
func TestImportOnASmallDisk(t *testing.T) {
	dir, enlarge := smallDisk(t)
	ctx, from, x := t.Context(), open(t, t.TempDir()), storetest.New()
	storetest.PutAll(t, from, x)
	for range 1000 {
		x.Reading.ID, x.Reading.Note = notebook.NewID(), strings.Repeat("n", 4000)
		put(t, from.Readings(), x.Reading)
	}
	var file bytes.Buffer
	fatal(t, from.Export(ctx, &file))
	archive, err := zip.NewReader(bytes.NewReader(file.Bytes()), int64(file.Len()))
	fatal(t, err)
	s := open(t, filepath.Join(dir, "notebook"))
	report, err := s.Import(ctx, archive, ImportOptions{})
	if notebook.CodeOf(err) != notebook.DiskFull || len(report.Problems) > 0 {
		t.Fatalf("on a full disk %d problems, %v", len(report.Problems), err)
	}
	if n := storetest.CountReadings(t, s); n != 0 {
		t.Errorf("%d readings stayed", n)
	}
	enlarge()
	if _, err := s.Import(ctx, archive, ImportOptions{}); err != nil {
		t.Fatalf("with room: %v", err)
	}
	if n := storetest.CountReadings(t, s); n != 1001 {
		t.Errorf("with room %d readings came", n)
	}
}

// T27: a long read keeps the journal's bytes; whoever empties it waits for it a
// while, is told so, and has it empty once the read is over.
func TestJournalIsEmptiedAfterALongRead(t *testing.T) {
	s, ctx := open(t, t.TempDir()), t.Context()
	x := storetest.New()
	storetest.PutAll(t, s, x)
	long, err := s.read.BeginTx(ctx, nil)
	fatal(t, err)
	var n int
	fatal(t, long.QueryRow("SELECT count(*) FROM readings").Scan(&n))
	x.Reading.ID = notebook.NewID()
	put(t, s.Readings(), x.Reading)
	_, err = s.write.ExecContext(ctx, "PRAGMA busy_timeout = 100")
	fatal(t, err)
	if err := emptyJournal(ctx, s); notebook.CodeOf(err) != notebook.Busy {
		t.Errorf("beside a read that does not end: %v", err)
	}
	if journal, err := s.files.own.Stat(databaseName + "-wal"); err != nil || journal.Size() == 0 {
		t.Errorf("the journal is empty although somebody reads it: %v", err)
	}
	_, err = s.write.ExecContext(ctx, "PRAGMA busy_timeout = 20000")
	fatal(t, err)
	over := make(chan error, 1)
	go func() { over <- emptyJournal(ctx, s) }()
	time.Sleep(50 * time.Millisecond)
	fatal(t, long.Rollback())
	fatal(t, <-over)
	if journal, err := s.files.own.Stat(databaseName + "-wal"); err != nil || journal.Size() != 0 {
		t.Errorf("the journal: %v, %v", journal, err)
	}
}

// T4: after a failed write to the disk nothing more is written, reading goes
// on, and the next opening checks the file before it writes.
func TestWritingStopsAfterADiskError(t *testing.T) {
	dir, ctx, x := t.TempDir(), context.Background(), storetest.New()
	s, err := Open(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	storetest.PutAll(t, s, x)
	broken := &failing{strings.NewReader("twang"), &fs.PathError{Op: "read", Err: syscall.EIO}}
	if _, _, err := s.Blobs().Add(ctx, broken, 100); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Fatalf("a disk error gave %v", err)
	}
	if _, _, err := s.Readings().Put(ctx, x.Person.ID, x.Reading); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Errorf("writing went on after a disk error: %v", err)
	}
	if _, err := s.Import(ctx, fstest.MapFS{}, ImportOptions{}); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Errorf("an import went on after a disk error: %v", err)
	}
	if n := storetest.CountReadings(t, s); n != 1 {
		t.Errorf("%d readings can be read", n)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again := open(t, dir)
	if again.lock.left == "" {
		t.Error("the next opening does not know that it should check")
	}
	if err := again.Writable(); err != nil {
		t.Errorf("a whole file stays closed to writing: %v", err)
	}
}

// What a part left that did not reach the disk may look written and never be:
// the next part goes on from what was acknowledged.
func TestPartAfterADiskError(t *testing.T) {
	dir, ctx := t.TempDir(), context.Background()
	s := open(t, dir)
	u := notebook.Upload{ID: notebook.NewID(), By: notebook.NewID()}
	if _, err := s.Blobs().Append(ctx, u, 0, strings.NewReader("twang"), 100); err != nil {
		t.Fatal(err)
	}
	broken := &failing{strings.NewReader("thump"), &fs.PathError{Op: "sync", Err: syscall.EIO}}
	if _, err := s.Blobs().Append(ctx, u, 5, broken, 100); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Fatalf("a disk error gave %v", err)
	}
	if _, err := s.Blobs().Append(ctx, u, 5, strings.NewReader("thump"), 100); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Errorf("writing went on after a disk error: %v", err)
	}
	if held, err := s.Blobs().Held(ctx, u); err != nil || held.Bytes != 5 {
		t.Errorf("%+v is here of 5 bytes that were acknowledged, %v", held, err)
	}
}

// A whole upload is not answered for once the disk has failed: its sender would
// throw its own copy away.
func TestWholeUploadAfterADiskError(t *testing.T) {
	s, ctx := open(t, t.TempDir()), context.Background()
	whole, other := notebook.Upload{ID: notebook.NewID(), By: notebook.NewID()}, notebook.Upload{ID: notebook.NewID(), By: notebook.NewID()}
	if _, err := s.Blobs().Append(ctx, whole, 0, strings.NewReader("twang"), 100); err != nil {
		t.Fatal(err)
	}
	if _, _, err := s.Blobs().Finish(ctx, whole, ""); err != nil {
		t.Fatal(err)
	}
	if held, err := s.Blobs().Held(ctx, whole); err != nil || held.Hash == "" {
		t.Fatalf("%+v, %v", held, err)
	}
	broken := &failing{strings.NewReader("thump"), &fs.PathError{Op: "sync", Err: syscall.EIO}}
	if _, err := s.Blobs().Append(ctx, other, 0, broken, 100); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Fatalf("a disk error gave %v", err)
	}
	if held, err := s.Blobs().Held(ctx, whole); notebook.CodeOf(err) != notebook.ReadOnly || held.Hash != "" {
		t.Errorf("after a disk error %+v is answered for, %v", held, err)
	}
}

// unerasable is an engine whose disk fails when it writes the database anew.
type unerasable struct{ engine }

func (unerasable) overwrite(context.Context, *Store) error {
	return fileError(&fs.PathError{Op: "sync", Err: syscall.EIO})
}

func TestWritingStopsWhenErasingFails(t *testing.T) {
	s, ctx, x := open(t, t.TempDir()), context.Background(), storetest.New()
	storetest.PutAll(t, s, x)
	s.engine = unerasable{s.engine}
	if _, err := s.Erase(ctx, x.Person.ID); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Fatalf("a disk error gave %v", err)
	}
	if _, _, err := s.People().Put(ctx, x.Person.ID, storetest.New().Person); notebook.CodeOf(err) != notebook.ReadOnly {
		t.Errorf("writing went on after a disk error: %v", err)
	}
}

type failing struct {
	io.Reader
	err error
}

func (f *failing) Read(p []byte) (int, error) {
	n, err := f.Reader.Read(p)
	if errors.Is(err, io.EOF) {
		err = f.err
	}
	return n, err
}

// A notebook whose program was killed is looked through; damage is found
// before anything is written.
func TestDamageIsFoundAfterACrash(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := storetest.New()
	storetest.PutAll(t, s, x)
	for range 200 {
		r := x.Reading
		r.ID = notebook.NewID()
		if _, _, err := s.Readings().Put(context.Background(), x.Person.ID, r); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, databaseName)
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	// zero every page but the first
	for i := 4096; i < len(raw); i++ {
		raw[i] = 0
	}
	if err := errors.Join(os.WriteFile(path, raw, 0o600), os.WriteFile(filepath.Join(dir, "lock"), []byte("12345\n"), 0o600)); err != nil {
		t.Fatal(err)
	}
	for range 2 { // a service is started again
		if _, err := Open(context.Background(), dir, Options{}); notebook.CodeOf(err) != notebook.Damaged {
			t.Errorf("a ruined file gave %v", err)
		}
	}
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(raw, after) {
		t.Errorf("the ruined file was changed: %v", err)
	}
}

// What a kill left in the journal may not be flushed. It is before anybody hears
// that it is kept: a checkpoint flushes the journal and moves it, so the file
// alone has it all.
func TestJournalIsFlushedAfterACrash(t *testing.T) {
	dir, after, alone := t.TempDir(), t.TempDir(), t.TempDir()
	s, x := open(t, dir), storetest.New()
	storetest.PutAll(t, s, x)
	copyOf := func(name, from, to string) {
		raw, err := os.ReadFile(filepath.Join(from, name))
		if err := errors.Join(err, os.WriteFile(filepath.Join(to, name), raw, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	copyOf(databaseName, dir, after)
	copyOf(databaseName+"-wal", dir, after)
	if err := os.WriteFile(filepath.Join(after, "lock"), []byte("12345\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	open(t, after)
	copyOf(databaseName, after, alone)
	db, err := openSQLite(filepath.Join(alone, databaseName), plain)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var n int
	if err := db.QueryRow("SELECT count(*) FROM readings").Scan(&n); err != nil || n != 1 {
		t.Errorf("of one reading the file has %d, %v", n, err)
	}
}

// U8: whatever is sent however often in whatever order, the notebook holds
// each id once, with the content that came first.
func TestResendsInAnyOrder(t *testing.T) {
	s, x, ctx := open(t, t.TempDir()), storetest.New(), context.Background()
	storetest.PutAll(t, s, x)
	rapid.Check(t, func(t *rapid.T) {
		ids := make([]notebook.ID, rapid.IntRange(1, 4).Draw(t, "ids"))
		for i := range ids {
			ids[i] = notebook.NewID()
		}
		first := map[notebook.ID]float64{}
		for range rapid.IntRange(1, 12).Draw(t, "sends") {
			r := x.Reading
			r.ID = rapid.SampledFrom(ids).Draw(t, "id")
			mm := rapid.IntRange(200, 203).Draw(t, "mm")
			r.Value, r.Text, r.Unit = float64(mm)/1000, fmt.Sprint(mm), "mm"
			_, outcome, err := s.Readings().Put(ctx, x.Person.ID, r)
			was, seen := first[r.ID]
			switch {
			case !seen && (err != nil || outcome != notebook.Created):
				t.Fatalf("first: %q, %v", outcome, err)
			case seen && was == r.Value && (err != nil || outcome != notebook.Already):
				t.Fatalf("resend: %q, %v", outcome, err)
			case seen && was != r.Value && notebook.CodeOf(err) != notebook.Different:
				t.Fatalf("other content: %q, %v", outcome, err)
			case !seen:
				first[r.ID] = r.Value
			}
		}
		for id, value := range first {
			if r, err := s.Readings().Get(ctx, x.Person.ID, id); err != nil || r.Value != value {
				t.Fatalf("%s holds %v, %v; first was %v", id, r.Value, err, value)
			}
		}
	})
}

// T12: the order of a list is that of receiving, whatever the clocks say.
func TestClocksDoNotSortTheList(t *testing.T) {
	dir, ctx, x := t.TempDir(), context.Background(), storetest.New()
	clock := []time.Duration{0, -8760 * time.Hour, 8760 * time.Hour, -time.Minute}
	n := 0
	s, err := Open(ctx, dir, Options{Now: func() time.Time { n++; return storetest.At.Add(clock[n%len(clock)]) }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	storetest.PutAll(t, s, x)
	want := []notebook.ID{x.Reading.ID}
	for i := range 8 {
		r := x.Reading
		r.ID, r.At = notebook.NewID(), storetest.At.AddDate(1-i%3, 0, 0)
		if _, _, err := s.Readings().Put(ctx, x.Person.ID, r); err != nil {
			t.Fatal(err)
		}
		want = append(want, r.ID)
	}
	page, err := s.Readings().List(ctx, x.Person.ID, notebook.Query{})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range page.Rows {
		if r.ID != want[i] {
			t.Fatalf("place %d holds %s, received was %s", i, r.ID, want[i])
		}
	}
}

// T6: another process, not only another handle, is told who has it open.
func TestSecondProcessIsToldWho(t *testing.T) {
	dir := t.TempDir()
	open(t, dir)
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childDir+"="+dir)
	out, err := child.CombinedOutput()
	if err == nil || !strings.Contains(string(out), fmt.Sprintf("already open by process %d", os.Getpid())) {
		t.Errorf("the second process said %q, %v", out, err)
	}
}

// smallBow is a bow that can be forgotten, with a sound file.
func smallBow(t *testing.T, s *Store) storetest.Sample {
	t.Helper()
	x := storetest.New()
	storetest.PutAll(t, s, x)
	hash, size, err := s.Blobs().Add(context.Background(), bytes.NewReader(make([]byte, 200_000)), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := s.Recordings().Put(context.Background(), x.Person.ID, storetest.RestOf(x, hash, size).Recording); err != nil {
		t.Fatal(err)
	}
	return x
}

// deletesOnFullDisk takes the last byte of the disk, then takes records out of
// sight and a bow out for good, which makes room for a recording (bars.md, T5:
// deleting works at 0 bytes).
func deletesOnFullDisk(t *testing.T, s *Store, x, gone storetest.Sample, dir string) {
	t.Helper()
	ctx := context.Background()
	rest, err := os.Create(filepath.Join(dir, "something else"))
	if err != nil {
		t.Fatal(err)
	}
	_, err = io.Copy(rest, rand.NewChaCha8([32]byte{}))
	if closed := rest.Close(); !errors.Is(err, syscall.ENOSPC) || closed != nil || s.Space().Free > 0 || !s.Space().Low() {
		t.Fatalf("filling the disk: %v, %v; %+v", err, closed, s.Space())
	}
	note := func() error {
		r := x.Reading
		r.ID = notebook.NewID()
		_, _, err := s.Readings().Put(ctx, x.Person.ID, r)
		return err
	}
	for err = nil; err == nil; { // the journal may have room for some
		err = note()
	}
	if notebook.CodeOf(err) != notebook.DiskFull {
		t.Fatal(err)
	}
	for k := range 5 {
		r := storetest.RestOf(x, "", 0).Retraction
		if _, _, err := s.Retractions().Put(ctx, x.Person.ID, r); err != nil {
			t.Fatalf("taking record %d out of sight on a full disk: %v", k, err)
		}
	}
	if n, err := s.Forget(ctx, []notebook.ID{gone.Bow.ID}); err != nil || n < 4 {
		t.Fatalf("a bow forgotten on a full disk: %d records, %v", n, err)
	}
	if s.Space().Free < 150_000 {
		t.Errorf("%d bytes are free after a recording of 200 000 went", s.Space().Free)
	}
	if _, _, err := s.Blobs().Add(ctx, bytes.NewReader(make([]byte, 100_000)), 1<<20); err != nil {
		t.Errorf("a recording in the room of the one that went: %v", err)
	}
	if err := os.Remove(rest.Name()); err != nil {
		t.Fatal(err)
	}
}

// The reserve is whole again once there is room, and a disk is low in time.
func TestReserve(t *testing.T) {
	for _, c := range []struct {
		free, total int64
		low         bool
	}{{-1, 0, false}, {400 << 20, 8 << 30, true}, {600 << 20, 8 << 30, false}, {600 << 20, 16 << 30, true}, {4 << 30, 1 << 40, true}, {6 << 30, 1 << 40, false}, {0, 1 << 40, true}} {
		if got := (Space{c.free, c.total}).Low(); got != c.low {
			t.Errorf("%d of %d bytes free: low %t", c.free, c.total, got)
		}
	}
	r, now := reserve{in: placesOf(t, t.TempDir()).own}, time.Now()
	steps := []struct {
		what string
		do   func()
		size int64
	}{
		{"little room", func() { r.fill(now, Space{5 << 20, 1 << 30}) }, 0},
		{"too soon", func() { r.fill(now, Space{500 << 20, 1 << 30}) }, 0},
		{"room", func() { r.fill(now.Add(time.Hour), Space{500 << 20, 1 << 30}) }, reserveBytes},
		{"one piece", func() { r.give(reservePiece) }, reserveBytes - reservePiece},
		{"the rest", func() { r.give(reserveBytes) }, 0},
		{"room again", func() { r.fill(now.Add(2*time.Hour), Space{500 << 20, 8 << 20}) }, 1 << 20},
	}
	for _, s := range steps {
		if s.do(); r.size() != s.size {
			t.Errorf("%s: %d bytes are held back, wanted %d", s.what, r.size(), s.size)
		}
	}
	if r.give(reserveBytes); r.give(reservePiece) {
		t.Error("an empty reserve gave something")
	}
}
