// Package storetest holds what every storage of a notebook must do. Each
// engine's own test calls Run with a way to open an empty notebook.
package storetest

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/iotest"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// Sample is a small notebook of invented records that belong together.
type Sample struct {
	Person  notebook.Person
	Bow     notebook.Bow
	SetUp   notebook.SetUp
	Trial   notebook.Trial
	Reading notebook.Reading
}

// At is the moment at which sample records were written.
var At = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// New makes a fresh sample.
func New() Sample {
	me := notebook.NewID()
	stamp := func() notebook.Stamp { return notebook.Stamp{ID: notebook.NewID(), By: me, At: At} }
	s := Sample{
		Person: notebook.Person{Stamp: notebook.Stamp{ID: me, By: me, At: At}, Name: "Ida Falk", Hand: notebook.RightHanded, Version: 1},
		Bow:    notebook.Bow{Stamp: stamp(), Owner: me, Name: "Heron 70", Style: notebook.Recurve, Version: 1},
	}
	s.SetUp = notebook.SetUp{Stamp: stamp(), Bow: s.Bow.ID, Reason: "first", Settings: Settings()}
	s.Trial = notebook.Trial{Stamp: stamp(), Bow: s.Bow.ID, SetUp: s.SetUp.ID, What: "brace height", Plan: json.RawMessage(`{"version":1}`)}
	s.Reading = notebook.Reading{
		Stamp: stamp(), Bow: s.Bow.ID, SetUp: s.SetUp.ID, Trial: s.Trial.ID, Kind: notebook.ReadBrace,
		Value: 0.222, Text: "22,2 cm", Unit: "cm", Edge: notebook.EdgePivot, Repeat: 1,
	}
	return s
}

// Settings are those of an invented bow.
func Settings() notebook.Settings {
	raw := `{"draw":{"length":"28.5 in","weight":"40 lbf"},"limbs":{"bow_length":"70 in","range_low":"21 cm","range_high":"8 7/8 in"},
	"string":{"material":"hmpe","strands":18},"brace_height":{"value":"22,2 cm"},"arrow":{"mass":"331 gr","spine":"550"}}`
	s, err := notebook.ReadSettings([]byte(raw))
	if err != nil {
		panic("storetest: " + err.Error())
	}
	return s
}

// Rest are the nouns that a sample lacks, belonging to it.
type Rest struct {
	Session    notebook.Session
	Recording  notebook.Recording
	Event      notebook.TrialEvent
	Verdict    notebook.Verdict
	End        notebook.End
	Onsets     notebook.Onsets
	Fit        notebook.Fit
	Forecast   notebook.Forecast
	Ruling     notebook.Ruling
	Share      notebook.Share
	Retraction notebook.Retraction
}

// RestOf makes the rest of a sample; hash and size are of a file in its Blobs.
func RestOf(x Sample, hash string, size int64) Rest {
	stamp := func() notebook.Stamp { return notebook.Stamp{ID: notebook.NewID(), By: x.Person.ID, At: At} }
	stop, damp := 2, 55.5
	right, up, release := 0.021, -0.034, 12.25
	recording := stamp()
	return Rest{
		Session: notebook.Session{
			Stamp: stamp(), Bow: x.Bow.ID, Place: "the meadow", Air: "mild", Humidity: &damp,
			Temperature: typed[unit.Temperature]("18 °C"),
			Wind:        typed[unit.Speed]("2.5 m/s"),
		},
		Recording: notebook.Recording{
			Stamp: recording, Hash: hash, Bytes: size, Media: "audio/wav", Name: "märz.wav", Bow: x.Bow.ID, Trial: x.Trial.ID,
			ToBale: typed[unit.Length]("6 m"), Taps: []notebook.Tap{{Stop: 0, At: 1.5}, {Stop: 1, At: 30.25}},
		},
		Event:   notebook.TrialEvent{Stamp: stamp(), Trial: x.Trial.ID, What: notebook.Reached, Stop: &stop},
		Verdict: notebook.Verdict{Stamp: stamp(), Trial: x.Trial.ID, Content: json.RawMessage(`{"says":"quieter all the way up"}`), Program: "test", Seed: 7, Inputs: hash, Chosen: x.SetUp.ID},
		End: notebook.End{
			Stamp: stamp(), Bow: x.Bow.ID, SetUp: x.SetUp.ID, Trial: x.Trial.ID, Stop: &stop, Number: 1, Distance: typed[unit.Length]("70 m"), Face: "122",
			Impacts: []notebook.Impact{{Arrow: "3", X: &right, Y: &up, Ring: "9", At: At}, {Ring: "M", Bare: true}},
		},
		Onsets: notebook.Onsets{
			Stamp: stamp(), Recording: recording.ID, Corrections: []notebook.OnsetCorrection{{Auto: &release, NoShot: true}, {Release: &release, NoImpact: true}},
			Ties: []notebook.Tie{{Release: release, Arrow: "3", Ring: "9", Reading: x.Reading.ID, Stop: &stop}},
		},
		Fit:        notebook.Fit{Stamp: stamp(), Bow: x.Bow.ID, SetUp: x.SetUp.ID, Readings: []notebook.ID{x.Reading.ID}, Content: json.RawMessage(`{"version":1}`), Program: "test", Inputs: hash},
		Forecast:   notebook.Forecast{Stamp: stamp(), Bow: x.Bow.ID, SetUp: x.SetUp.ID, Kind: "speed", Value: 57.5, Low: 56.5, High: 58.25, Level: 0.9},
		Ruling:     notebook.Ruling{Stamp: stamp(), Target: x.Reading.ID, Counts: true, Reason: "measured again with a better square"},
		Share:      notebook.Share{Stamp: stamp(), Archer: x.Person.ID, Bow: x.Bow.ID, With: notebook.NewID(), May: notebook.MayWork},
		Retraction: notebook.Retraction{Stamp: stamp(), Target: x.Reading.ID, Reason: "wrong bow"},
	}
}

// typed is a quantity as it was typed.
func typed[T unit.Quantity](text string) (q unit.Text[T]) {
	if err := q.UnmarshalText([]byte(text)); err != nil {
		panic("storetest: " + err.Error())
	}
	return q
}

// Run holds a storage to the contract.
func Run(t *testing.T, open func(t *testing.T) notebook.Store) {
	t.Run("every noun", func(t *testing.T) { everyNoun(t, open(t)) })
	t.Run("resend", func(t *testing.T) { resend(t, open(t)) })
	t.Run("versions", func(t *testing.T) { versions(t, open(t)) })
	t.Run("retraction", func(t *testing.T) { retraction(t, open(t)) })
	t.Run("taken back", func(t *testing.T) { takenBack(t, open(t)) })
	t.Run("narrowed", func(t *testing.T) { narrowed(t, open(t)) })
	t.Run("at once", func(t *testing.T) { atOnce(t, open(t)) })
	t.Run("pages", func(t *testing.T) { pages(t, open(t)) })
	t.Run("refusals", func(t *testing.T) { refusals(t, open(t)) })
	t.Run("blobs", func(t *testing.T) { blobs(t, open(t)) })
	t.Run("uploads", func(t *testing.T) { uploads(t, open(t)) })
	t.Run("guarded", func(t *testing.T) { guarded(t, open(t)) })
	t.Run("accounts at once", func(t *testing.T) { accountsAtOnce(t, open(t)) })
	t.Run("links and tokens under an id", func(t *testing.T) { ownIDs(t, open(t)) })
	t.Run("lists of tokens", func(t *testing.T) { listsOwn(t, open(t)) })
	t.Run("an invitation", func(t *testing.T) { admitsOnce(t, open(t)) })
	t.Run("an answer that was lost", func(t *testing.T) { admitsAgain(t, open(t)) })
	t.Run("the log", func(t *testing.T) { logPages(t, open(t)) })
	t.Run("as typed", func(t *testing.T) { asTyped(t, open(t)) })
}

func put[T notebook.Record](t testing.TB, r notebook.Records[T], rec T, want notebook.Outcome) T {
	t.Helper()
	kept, outcome, err := r.Put(context.Background(), rec.Stamped().By, rec)
	if err != nil || outcome != want {
		t.Fatalf("Put gave %q, %v; want %q", outcome, err, want)
	}
	return kept
}

// PutAll stores a sample.
func PutAll(t testing.TB, s notebook.Store, x Sample) {
	t.Helper()
	put(t, s.People(), x.Person, notebook.Created)
	put(t, s.Bows(), x.Bow, notebook.Created)
	put(t, s.SetUps(), x.SetUp, notebook.Created)
	put(t, s.Trials(), x.Trial, notebook.Created)
	put(t, s.Readings(), x.Reading, notebook.Created)
}

// everyNoun: whatever is put comes back the same, by its id and in the list,
// and is the same again when it is sent again.
func everyNoun(t *testing.T, s notebook.Store) {
	x := New()
	hash, size, err := s.Blobs().Add(context.Background(), strings.NewReader("twang"), 10)
	if err != nil {
		t.Fatal(err)
	}
	rest := RestOf(x, hash, size)
	keeps(t, s.People(), x.Person)
	keeps(t, s.Bows(), x.Bow)
	keeps(t, s.SetUps(), x.SetUp)
	keeps(t, s.Sessions(), rest.Session)
	keeps(t, s.Trials(), x.Trial)
	keeps(t, s.Readings(), x.Reading)
	keeps(t, s.Recordings(), rest.Recording)
	keeps(t, s.Events(), rest.Event)
	keeps(t, s.Verdicts(), rest.Verdict)
	keeps(t, s.Ends(), rest.End)
	keeps(t, s.Onsets(), rest.Onsets)
	keeps(t, s.Fits(), rest.Fit)
	keeps(t, s.Forecasts(), rest.Forecast)
	keeps(t, s.Rulings(), rest.Ruling)
	keeps(t, s.Shares(), rest.Share)
	keeps(t, s.Retractions(), rest.Retraction)
}

func keeps[T notebook.Record](t *testing.T, s notebook.Records[T], r T) {
	t.Helper()
	ctx, me := context.Background(), r.Stamped().By
	kept := put(t, s, r, notebook.Created)
	if kept.Stamped().Received.IsZero() {
		t.Errorf("%T has no time of receiving", r)
	}
	got, err := s.Get(ctx, me, r.Stamped().ID)
	if err != nil || !reflect.DeepEqual(got, kept) {
		t.Errorf("%T came back otherwise: %v\n%+v\n%+v", r, err, kept, got)
	}
	page, err := s.List(ctx, me, notebook.Query{Retracted: true})
	if err != nil || len(page.Rows) != 1 || !reflect.DeepEqual(page.Rows[0], kept) {
		t.Errorf("%T is listed otherwise: %+v, %v", r, page.Rows, err)
	}
	if again := put(t, s, r, notebook.Already); !reflect.DeepEqual(again, kept) {
		t.Errorf("%T sent again became\n%+v\n%+v", r, kept, again)
	}
}

// resend: the same record twice is stored once; other content under the same
// id is refused and the first kept.
func resend(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	first, err := s.Readings().Get(context.Background(), x.Person.ID, x.Reading.ID)
	if err != nil {
		t.Fatal(err)
	}
	if again := put(t, s.Readings(), x.Reading, notebook.Already); !again.Received.Equal(first.Received) {
		t.Error("a resend changed when the record was received")
	}
	other := x.Reading
	other.Value, other.Text = 0.223, "22,3 cm"
	_, _, err = s.Readings().Put(context.Background(), x.Person.ID, other)
	if notebook.CodeOf(err) != notebook.Different {
		t.Errorf("other content under the same id gave %v", err)
	}
	if kept, err := s.Readings().Get(context.Background(), x.Person.ID, x.Reading.ID); err != nil || kept.Value != 0.222 {
		t.Errorf("the first reading is gone: %v, %v", kept.Value, err)
	}
}

// versions: a bow's next version replaces what is listed, an older one is
// refused.
func versions(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	next := x.Bow
	next.Name, next.Version = "Heron 70, spare", 2
	put(t, s.Bows(), next, notebook.Updated)
	put(t, s.Bows(), next, notebook.Already)
	stale := x.Bow
	stale.Name, stale.Version = "lost update", 2
	if _, _, err := s.Bows().Put(context.Background(), x.Person.ID, stale); notebook.CodeOf(err) != notebook.Outdated {
		t.Errorf("a lost update gave %v", err)
	}
	page, err := s.Bows().List(context.Background(), x.Person.ID, notebook.Query{})
	if err != nil || len(page.Rows) != 1 || page.Rows[0].Name != "Heron 70, spare" {
		t.Errorf("list gave %+v, %v", page.Rows, err)
	}
}

// retraction: a retracted record leaves the list, not the notebook; taking
// the retraction back brings it in again.
func retraction(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	ctx, me := context.Background(), x.Person.ID
	r := notebook.Retraction{Stamp: notebook.Stamp{ID: notebook.NewID(), By: me, At: At}, Target: x.Reading.ID, Reason: "wrong bow"}
	count := func(q notebook.Query) int {
		page, err := s.Readings().List(ctx, me, q)
		if err != nil {
			t.Fatal(err)
		}
		return len(page.Rows)
	}
	put(t, s.Retractions(), r, notebook.Created)
	if n, all := count(notebook.Query{}), count(notebook.Query{Retracted: true}); n != 0 || all != 1 {
		t.Errorf("after a retraction %d listed, %d with retracted", n, all)
	}
	undo := notebook.Retraction{Stamp: notebook.Stamp{ID: notebook.NewID(), By: me, At: At}, Target: r.ID}
	put(t, s.Retractions(), undo, notebook.Created)
	if n := count(notebook.Query{}); n != 1 {
		t.Errorf("after taking it back %d listed", n)
	}
	redo := notebook.Retraction{Stamp: notebook.Stamp{ID: notebook.NewID(), By: me, At: At}, Target: undo.ID}
	if _, _, err := s.Retractions().Put(ctx, me, redo); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("retracting an undo gave %v", err)
	}
	redo.Target = x.Reading.ID
	put(t, s.Retractions(), redo, notebook.Created)
	if n := count(notebook.Query{}); n != 0 {
		t.Errorf("after retracting again %d listed", n)
	}
}

// takenBack: what was taken back is found by the bow and the session of what
// it was, whatever its noun, the last first.
func takenBack(t *testing.T, s notebook.Store) {
	x, y := New(), New()
	var targets []notebook.ID
	var rest Rest
	for _, one := range []Sample{y, x} {
		rest = RestOf(one, strings.Repeat("ab", 32), 5)
		one.Reading.Session, rest.End.Session, rest.Ruling.Target = rest.Session.ID, rest.Session.ID, rest.Verdict.ID
		PutAll(t, s, one)
		put(t, s.Sessions(), rest.Session, notebook.Created)
		put(t, s.Recordings(), rest.Recording, notebook.Created)
		put(t, s.Events(), rest.Event, notebook.Created)
		put(t, s.Verdicts(), rest.Verdict, notebook.Created)
		put(t, s.Ends(), rest.End, notebook.Created)
		put(t, s.Onsets(), rest.Onsets, notebook.Created)
		put(t, s.Fits(), rest.Fit, notebook.Created)
		put(t, s.Forecasts(), rest.Forecast, notebook.Created)
		put(t, s.Rulings(), rest.Ruling, notebook.Created)
		targets = []notebook.ID{one.Bow.ID, one.SetUp.ID, one.Trial.ID, rest.Session.ID, one.Reading.ID, rest.End.ID, rest.Recording.ID, rest.Event.ID,
			rest.Verdict.ID, rest.Onsets.ID, rest.Fit.ID, rest.Forecast.ID, rest.Ruling.ID}
		for _, id := range targets {
			put(t, s.Retractions(), notebook.Retraction{Stamp: notebook.Stamp{ID: notebook.NewID(), By: one.Person.ID, At: At}, Target: id}, notebook.Created)
		}
	}
	found := func(q notebook.Query) (out []notebook.ID) {
		q.Newest, q.Limit = true, 5
		for {
			page, err := s.Retractions().List(context.Background(), x.Person.ID, q)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range page.Rows {
				out = append(out, r.Target)
			}
			if q.After = page.Next; q.After == "" {
				slices.Reverse(out)
				return out
			}
		}
	}
	if got := found(notebook.Query{Bow: x.Bow.ID}); !slices.Equal(got, targets) {
		t.Errorf("of the bow were found\n%v\nwanted\n%v", got, targets)
	}
	if got, want := found(notebook.Query{Session: rest.Session.ID}), []notebook.ID{rest.Session.ID, x.Reading.ID, rest.End.ID}; !slices.Equal(got, want) {
		t.Errorf("of the session were found %v, wanted %v", got, want)
	}
	if got := found(notebook.Query{Bow: y.Bow.ID, Session: rest.Session.ID}); len(got) != 0 {
		t.Errorf("of another bow in this session were found %v", got)
	}
}

// narrowed: each of a query's fields narrows the list to what it names.
func narrowed(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	other := x.SetUp
	other.ID, other.Parent = notebook.NewID(), x.SetUp.ID
	put(t, s.SetUps(), other, notebook.Created)
	r := x.Reading
	r.ID, r.SetUp, r.Trial, r.Session = notebook.NewID(), other.ID, "", notebook.NewID()
	put(t, s.Readings(), r, notebook.Created)
	for name, q := range map[string]notebook.Query{"set-up": {SetUp: other.ID}, "session": {Session: r.Session}, "both": {Bow: x.Bow.ID, SetUp: other.ID}} {
		page, err := s.Readings().List(context.Background(), x.Person.ID, q)
		if err != nil || len(page.Rows) != 1 || page.Rows[0].ID != r.ID {
			t.Errorf("by %s: %d rows, %v", name, len(page.Rows), err)
		}
	}
}

// atOnce: eight writers of the same bow; each version is accepted once.
func atOnce(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	ctx := context.Background()
	var won atomic.Int64
	var writers sync.WaitGroup
	for w := range 8 {
		writers.Go(func() {
			for range 10 {
				now, err := s.Bows().Get(ctx, x.Person.ID, x.Bow.ID)
				if err != nil {
					t.Error(err)
					return
				}
				now.Version++
				now.Notes = fmt.Sprintf("writer %d, version %d", w, now.Version)
				switch _, outcome, err := s.Bows().Put(ctx, x.Person.ID, now); {
				case err == nil && outcome == notebook.Updated:
					won.Add(1)
				case notebook.CodeOf(err) != notebook.Outdated:
					t.Errorf("%q, %v", outcome, err)
				}
			}
		})
	}
	writers.Wait()
	last, err := s.Bows().Get(ctx, x.Person.ID, x.Bow.ID)
	if err != nil || int64(last.Version) != won.Load()+1 {
		t.Errorf("%d changes were accepted, the version is %d, %v", won.Load(), last.Version, err)
	}
}

// CountReadings counts the readings that are listed.
func CountReadings(t *testing.T, s notebook.Store) (n int) {
	t.Helper()
	for q := (notebook.Query{Limit: 1000}); ; {
		page, err := s.Readings().List(context.Background(), "", q)
		if err != nil {
			t.Fatal(err)
		}
		n += len(page.Rows)
		if q.After = page.Next; q.After == "" {
			return n
		}
	}
}

// pages: a list in pages holds every record once, in the order received.
func pages(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	ctx, me := context.Background(), x.Person.ID
	const more = 25
	for range more {
		r := x.Reading
		r.ID = notebook.NewID()
		put(t, s.Readings(), r, notebook.Created)
	}
	seen := map[notebook.ID]bool{}
	q := notebook.Query{Trial: x.Trial.ID, Limit: 7}
	for {
		page, err := s.Readings().List(ctx, me, q)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range page.Rows {
			if seen[r.ID] {
				t.Errorf("%s twice", r.ID)
			}
			seen[r.ID] = true
		}
		if page.Next == "" {
			break
		}
		q.After = page.Next
	}
	if len(seen) != more+1 {
		t.Errorf("%d of %d readings listed", len(seen), more+1)
	}
	newestFirst(t, s, x)
	if page, err := s.Readings().List(ctx, me, notebook.Query{Trial: notebook.NewID()}); err != nil || len(page.Rows) != 0 {
		t.Errorf("another trial's list holds %d, %v", len(page.Rows), err)
	}
}

// newestFirst: a list from its end holds the same records the other way round,
// and what corrects another is found alone.
func newestFirst(t *testing.T, s notebook.Store, x Sample) {
	ctx, me := context.Background(), x.Person.ID
	forward, err := s.Readings().List(ctx, me, notebook.Query{Trial: x.Trial.ID, Limit: 1000})
	if err != nil {
		t.Fatal(err)
	}
	at := len(forward.Rows)
	for q := (notebook.Query{Trial: x.Trial.ID, Newest: true, Limit: 10}); ; {
		page, err := s.Readings().List(ctx, me, q)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range page.Rows {
			if at--; at < 0 || forward.Rows[at].ID != r.ID {
				t.Fatalf("from the end, %s stands at %d", r.ID, at)
			}
		}
		if q.After = page.Next; q.After == "" {
			break
		}
	}
	if at != 0 {
		t.Errorf("from the end %d are missing", at)
	}
	fix := x.Reading
	fix.ID, fix.Corrects, fix.Note = notebook.NewID(), x.Reading.ID, `not "corrects":"this"`
	put(t, s.Readings(), fix, notebook.Created)
	plain := x.Reading
	plain.ID, plain.Note = notebook.NewID(), `"corrects":"nothing"`
	put(t, s.Readings(), plain, notebook.Created)
	found, err := s.Readings().List(ctx, me, notebook.Query{Trial: x.Trial.ID, Correcting: true})
	if err != nil || len(found.Rows) != 1 || found.Rows[0].ID != fix.ID {
		t.Errorf("%d records correct another, %v", len(found.Rows), err)
	}
}

// refusals: what cannot stand is refused with its code and stores nothing.
func refusals(t *testing.T, s notebook.Store) {
	x := New()
	ctx, me := context.Background(), x.Person.ID
	if _, _, err := s.Readings().Put(ctx, me, x.Reading); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("a reading on a set-up that is not there gave %v", err)
	}
	bad := x.Reading
	bad.Value = 22.2 // centimetres as metres
	if _, _, err := s.Readings().Put(ctx, me, bad); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("an impossible value gave %v", err)
	}
	if _, err := s.Readings().Get(ctx, me, notebook.NewID()); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("an unknown id gave %v", err)
	}
	if _, err := s.Readings().List(ctx, me, notebook.Query{After: "x"}); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("a nonsense cursor gave %v", err)
	}
	if page, err := s.Readings().List(ctx, me, notebook.Query{}); err != nil || len(page.Rows) != 0 {
		t.Errorf("refused records were stored: %d, %v", len(page.Rows), err)
	}
}

// blobs: bytes come back unchanged under their hash; over the limit nothing
// is kept.
func blobs(t *testing.T, s notebook.Store) {
	ctx := context.Background()
	data := bytes.Repeat([]byte("twang"), 1000)
	hash, size, err := s.Blobs().Add(ctx, bytes.NewReader(data), 1<<20)
	if err != nil || size != int64(len(data)) {
		t.Fatal(size, err)
	}
	f, err := s.Blobs().Open(ctx, hash)
	if err != nil {
		t.Fatal(err)
	}
	back, err := io.ReadAll(f)
	if err := errors.Join(err, f.Close()); err != nil || !bytes.Equal(back, data) {
		t.Errorf("%d bytes came back, %v", len(back), err)
	}
	if _, _, err := s.Blobs().Add(ctx, bytes.NewReader(data), 4999); notebook.CodeOf(err) != notebook.TooLarge {
		t.Errorf("one byte over the limit gave %v", err)
	}
	if _, _, err := s.Blobs().Add(ctx, strings.NewReader(""), 10); notebook.CodeOf(err) != notebook.Invalid {
		t.Errorf("an empty file gave %v", err)
	}
	for _, name := range []string{"../notebook.db", strings.Repeat("0", 64), "", "a/b"} {
		if _, err := s.Blobs().Open(ctx, name); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("Open(%q) gave %v", name, err)
		}
	}
}

// uploads: a file that comes in parts is the same as one that comes at once; what
// came before its sender broke off counts, and another's upload under the same
// id is another.
func uploads(t *testing.T, s notebook.Store) {
	ctx, b := context.Background(), s.Blobs()
	data := bytes.Repeat([]byte("twang "), 1000)
	u := notebook.Upload{ID: notebook.NewID(), By: notebook.NewID()}
	if _, err := b.Held(ctx, u); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("before it is begun: %v", err)
	}
	if _, err := b.Append(ctx, u, 10, bytes.NewReader(data), 1<<20); notebook.CodeOf(err) != notebook.Different {
		t.Errorf("begun in the middle: %v", err)
	}
	broken := errors.New("the line broke")
	if size, err := b.Append(ctx, u, 0, io.MultiReader(bytes.NewReader(data[:2000]), iotest.ErrReader(broken)), 1<<20); size != 2000 || !errors.Is(err, broken) {
		t.Errorf("%d bytes of 2000 are here after a break, %v", size, err)
	}
	other := notebook.Upload{ID: u.ID, By: notebook.NewID()}
	if _, err := b.Held(ctx, other); notebook.CodeOf(err) != notebook.NotFound {
		t.Errorf("another's upload is seen: %v", err)
	}
	if size, err := b.Append(ctx, u, 2000, bytes.NewReader(data[2000:]), 1<<20); size != int64(len(data)) || err != nil {
		t.Fatal(size, err)
	}
	want, _, err := b.Add(ctx, bytes.NewReader(data), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if hash, size, err := b.Finish(ctx, u, want); hash != want || size != int64(len(data)) || err != nil {
			t.Errorf("finished as %s, %d, %v", hash, size, err)
		}
		if held, err := b.Held(ctx, u); held.Hash != want || held.Bytes != int64(len(data)) || err != nil {
			t.Errorf("afterwards: %+v, %v", held, err)
		}
	}
	notKept(t, b)
}

// notKept: nothing stays of an upload that is too large, of another hash, empty
// or given up.
func notKept(t *testing.T, b notebook.Blobs) {
	ctx := context.Background()
	for _, row := range []struct {
		why  string
		data string
		want string
		code notebook.Code
	}{
		{"too large", strings.Repeat("x", 101), "", notebook.TooLarge},
		{"another hash", "x", strings.Repeat("0", 64), notebook.Invalid},
		{"nothing", "", "", notebook.Invalid},
		{"given up", "x", "drop", ""},
	} {
		u := notebook.Upload{ID: notebook.NewID(), By: notebook.NewID()}
		_, err := b.Append(ctx, u, 0, strings.NewReader(row.data), 100)
		if row.want == "drop" {
			err = errors.Join(err, b.Drop(ctx, u), b.Drop(ctx, u))
		} else if err == nil {
			_, _, err = b.Finish(ctx, u, row.want)
		}
		if notebook.CodeOf(err) != row.code || row.code == "" && err != nil {
			t.Errorf("%s: %v", row.why, err)
		}
		if _, err := b.Held(ctx, u); notebook.CodeOf(err) != notebook.NotFound {
			t.Errorf("%s: it is still here: %v", row.why, err)
		}
	}
	for _, u := range []notebook.Upload{{}, {ID: "../../x", By: notebook.NewID()}, {ID: notebook.NewID(), By: ""}} {
		if _, err := b.Append(ctx, u, 0, strings.NewReader("x"), 100); notebook.CodeOf(err) != notebook.Invalid {
			t.Errorf("an upload named %v gave %v", u, err)
		}
	}
}

// asTyped: a quantity comes back letter for letter, with its value.
func asTyped(t *testing.T, s notebook.Store) {
	x := New()
	PutAll(t, s, x)
	got, err := s.SetUps().Get(context.Background(), x.Person.ID, x.SetUp.ID)
	if err != nil {
		t.Fatal(err)
	}
	if b := got.Settings.BraceHeight.Value; b.Text != "22,2 cm" || b.Value != unit.Length(0.222) {
		t.Errorf("brace height came back as %q, %v", b.Text, b.Value)
	}
	if h := got.Settings.Limbs.RangeHigh; h.Text != "8 7/8 in" {
		t.Errorf("range came back as %q", h.Text)
	}
}
