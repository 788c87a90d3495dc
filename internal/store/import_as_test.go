package store

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"tautline/internal/store/storetest"
	"tautline/notebook"
)

// unzipped is an export as files.
func unzipped(t *testing.T, raw []byte) fs.FS {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func imported(t *testing.T, s *Store, raw []byte, as notebook.ID) ImportReport {
	t.Helper()
	r, err := s.Import(context.Background(), unzipped(t, raw), ImportOptions{As: as})
	if err != nil || !r.Done {
		t.Fatalf("%+v, %v", r, err)
	}
	return r
}

// Moving on (bars.md, section 4, item 4): somebody's own notebook comes into a
// club under the login they have there, is worked on by them and a coach, and
// goes home again, where all that is new is added and all else is as it was.
func TestSoloNotebookIntoAClubAndOutAgain(t *testing.T) {
	both(t, func(t *testing.T, club *Store) {
		ctx := context.Background()
		home := openWith(t, t.TempDir(), Options{})
		mine := storetest.New()
		mine.Person.Role = notebook.OwnerRole // of the notebook at home
		put(t, home.People(), mine.Person)
		put(t, home.Bows(), mine.Bow)
		put(t, home.SetUps(), mine.SetUp)
		put(t, home.Trials(), mine.Trial)
		put(t, home.Readings(), mine.Reading)
		sound := []byte("RIFF my own")
		hash, size, err := home.Blobs().Add(ctx, bytes.NewReader(sound), 1000)
		fatal(t, err)
		friend := storetest.New().Person
		put(t, home.People(), friend)
		rest := storetest.RestOf(mine, hash, size)
		rest.Share.With = friend.ID
		putRest(t, home, rest)
		before := recordsOf(t, home)

		c := newSmall(t, club) // Ida has a login there, and bows
		me, bens := c.ida.Person.ID, recordsOf(t, club)
		r := imported(t, club, exported(t, home), me)
		if r.Added["person"] != 1 || r.Added["bow"] != 1 || r.Added["reading"] == 0 {
			t.Errorf("%+v", r)
		}
		after := recordsOf(t, club)
		for id, body := range bens {
			if after[id] != body {
				t.Errorf("%s of the club's became %s", body, after[id])
			}
		}
		if strings.Contains(strings.Join(values(after), ""), string(mine.Person.ID)) {
			t.Error("the club's notebook still names who they were at home")
		}
		book := notebook.Guarded(club)
		if _, err := book.Bows().Get(ctx, me, mine.Bow.ID); err != nil {
			t.Errorf("her bow, as herself: %v", err)
		}
		if _, err := book.Bows().Get(ctx, c.ben.Person.ID, mine.Bow.ID); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("her bow, as Ben: %v", err)
		}
		if again := imported(t, club, exported(t, home), me); len(again.Added) > 0 {
			t.Errorf("a second time it added %v", again.Added)
		}
		stamp := notebook.Stamp{ID: notebook.NewID(), By: c.coach.ID, At: storetest.At}
		coached := put(t, club.Readings(), notebook.Reading{Stamp: stamp, Bow: mine.Bow.ID, SetUp: mine.SetUp.ID, Kind: notebook.ReadBrace, Value: 0.219, Text: "21.9 cm"})

		var out bytes.Buffer
		fatal(t, club.ExportPerson(ctx, me, &out))
		r = imported(t, home, out.Bytes(), mine.Person.ID)
		if r.Added["bow"] != 1 || r.Added["person"] != 1 { // the club's bow, and the coach by number
			t.Errorf("%+v", r)
		}
		got := recordsOf(t, home)
		for id, body := range before {
			if got[id] != body {
				t.Errorf("%s\nbecame\n%s", body, got[id])
			}
		}
		if !strings.Contains(got[coached.ID], `"value":0.219`) || strings.Contains(strings.Join(values(got), ""), string(me)) {
			t.Errorf("the coach's reading is %s", got[coached.ID])
		}
		if r, err := home.Verify(ctx); err != nil || len(r.Problems) > 0 {
			t.Errorf("%+v, %v", r.Problems, err)
		}
	})
}

func values(m map[notebook.ID]string) (out []string) {
	for _, v := range m {
		out = append(out, v)
	}
	return out
}

// Without --as they come in as somebody new, who is told of, and with no say
// over others whatever the export says.
func TestImportGivesNobodyPower(t *testing.T) {
	both(t, func(t *testing.T, club *Store) {
		newSmall(t, club)
		home := openWith(t, t.TempDir(), Options{})
		x := storetest.New()
		x.Person.Name, x.Person.Role = "Vera Kern", notebook.OwnerRole
		put(t, home.People(), x.Person)
		put(t, home.Bows(), x.Bow)
		raw := exported(t, home)
		r := imported(t, club, raw, "")
		if len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0].Message, "Vera Kern has no login here") || !strings.Contains(r.Warnings[0].Message, "--as") {
			t.Errorf("%+v", r.Warnings)
		}
		p, err := club.People().Get(t.Context(), x.Person.ID, x.Person.ID)
		if err != nil || p.Role != notebook.ArcherRole {
			t.Errorf("%+v, %v", p, err)
		}
		if again := imported(t, club, raw, ""); len(again.Added) > 0 || len(again.Warnings) > 0 {
			t.Errorf("%+v", again)
		}
	})
	empty := openWith(t, t.TempDir(), Options{}) // a notebook that moves keeps everyone's role
	home := openWith(t, t.TempDir(), Options{})
	x := storetest.New()
	x.Person.Role = notebook.OwnerRole
	put(t, home.People(), x.Person)
	move(t, exported(t, home), empty)
	if p, err := empty.People().Get(t.Context(), x.Person.ID, x.Person.ID); err != nil || p.Role != notebook.OwnerRole {
		t.Errorf("%+v, %v", p, err)
	}
	line, err := json.Marshal(map[string]any{"kind": "bow", "record": x.Bow})
	fatal(t, err)
	headless := fstest.MapFS{recordsName: &fstest.MapFile{Data: []byte("[\n" + string(line) + "\n]\n")}}
	r, err := empty.Import(t.Context(), headless, ImportOptions{As: notebook.NewID()})
	if err != nil || r.Done || len(r.Problems) != 1 || !strings.Contains(r.Problems[0].Message, "whose it is") {
		t.Errorf("an export of nobody: %+v, %v", r, err)
	}
}
