//go:build unix

package drill

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5"

	"tautline/internal/store"
	"tautline/notebook"
)

// Archer is one person of a made-up club, with what a client needs to know.
type Archer struct {
	Person, Bow, SetUp notebook.ID
	Token              string // for the header Authorization
	Sessions           []notebook.ID
}

// Size is how large a made-up notebook is.
type Size struct {
	Archers  int
	Impacts  int // of all together, in ends of six, twelve ends a session
	Readings int // of all together
}

// FillClub makes a notebook of invented archers who shot for years: people and
// bows through the store, the many ends past it, straight into the tables.
func FillClub(ctx context.Context, dir, database string, size Size, dice *rand.Rand) (archers []Archer, err error) {
	book, err := store.Open(ctx, dir, store.Options{Database: database})
	if err != nil {
		return nil, err
	}
	for i := range size.Archers {
		a, err := newArcher(ctx, book, i)
		if err != nil {
			return nil, errors.Join(err, book.Close())
		}
		archers = append(archers, a)
	}
	if err := errors.Join(coach(ctx, book, archers), book.Close()); err != nil {
		return nil, err
	}
	h := harvest{dice: dice, begun: time.Date(2022, 4, 1, 17, 0, 0, 0, time.UTC)}
	for i := range archers {
		if err := h.years(&archers[i], size.Impacts/size.Archers, size.Readings/size.Archers); err != nil {
			return nil, err
		}
	}
	return archers, h.store(ctx, dir, database)
}

func newArcher(ctx context.Context, book *store.Store, i int) (a Archer, err error) {
	a = Archer{Person: notebook.NewID(), Bow: notebook.NewID(), SetUp: notebook.NewID(), Token: fmt.Sprintf("token of invented archer %d", i)}
	now := time.Now().UTC()
	stamp := func(id notebook.ID) notebook.Stamp { return notebook.Stamp{ID: id, By: a.Person, At: now} }
	role := notebook.ArcherRole
	switch i {
	case 0:
		role = notebook.OwnerRole
	case 1:
		role = notebook.CoachRole
	}
	sum := sha256.Sum256([]byte(a.Token))
	var settings notebook.Settings
	own := maps.Clone(clubBow) // no two bows are alike: what is computed for one is of no use to another
	own["brace_height"] = obj{"value": fmt.Sprintf("%.3f mm", 219+0.01*float64(i))}
	if settings, err = notebook.ReadSettings(compact(own)); err != nil {
		return a, err
	}
	_, _, err = book.People().Put(ctx, a.Person, notebook.Person{Stamp: stamp(a.Person), Name: fmt.Sprint("Archer ", i), Hand: notebook.RightHanded, Units: "metric", Role: role, Version: 1})
	if err == nil {
		err = book.SaveAccount(ctx, notebook.Account{Person: a.Person, Login: fmt.Sprint("archer", i), Made: now, Since: now.AddDate(-1, 0, 0)})
	}
	if err == nil {
		err = book.SaveCredential(ctx, notebook.Credential{ID: notebook.NewID(), Kind: notebook.TokenCredential, Hash: hex.EncodeToString(sum[:]), Person: a.Person, May: notebook.MayWork, Made: now, Expires: now.AddDate(1, 0, 0)})
	}
	if err == nil {
		_, _, err = book.Bows().Put(ctx, a.Person, notebook.Bow{Stamp: stamp(a.Bow), Owner: a.Person, Name: fmt.Sprint("Blue ", i), Style: notebook.Recurve, Version: 1})
	}
	if err == nil {
		_, _, err = book.SetUps().Put(ctx, a.Person, notebook.SetUp{Stamp: stamp(a.SetUp), Bow: a.Bow, Reason: "as bought", Settings: settings})
	}
	return a, err
}

// looksAfter is how many archers share all their bows with the coach.
const looksAfter = 30

// coach lets the second archer, who is the club's coach, work on the bows of
// those who follow.
func coach(ctx context.Context, book *store.Store, archers []Archer) (err error) {
	for _, a := range archers[min(2, len(archers)):min(2+looksAfter, len(archers))] {
		id := notebook.NewID()
		share := notebook.Share{Stamp: notebook.Stamp{ID: id, By: a.Person, At: time.Now().UTC()}, Archer: a.Person, With: archers[1].Person, May: notebook.MayWork}
		_, _, failed := book.Shares().Put(ctx, a.Person, share)
		err = errors.Join(err, failed)
	}
	return err
}

// clubBow is an invented bow with its arrow.
var clubBow = obj{
	"riser": obj{"length": "25 in"}, "limbs": obj{"bow_length": "68 in", "marked_weight": "36 lbf", "range_low": "21 cm", "range_high": "23.5 cm"},
	"string": obj{"material": "hmpe", "strands": 18, "length": "166 cm"}, "draw": obj{"length": "28.5 in", "weight": "38 lbf"},
	"brace_height": obj{"value": "22 cm"}, "nocking_point": obj{"value": "10 mm"}, "arrow": obj{"mass": "330 gr", "spine": "600"},
}

// tableRow is one row of a table, in the order of its columns.
type tableRow []any

var columnsOf = map[string][]string{
	"sessions": {"id", "version", "by_person", "at_utc", "received_utc", "body", "bow"},
	"ends":     {"id", "version", "by_person", "at_utc", "received_utc", "body", "bow", "setup", "session", "trial"},
	"readings": {"id", "version", "by_person", "at_utc", "received_utc", "body", "bow", "setup", "session", "trial", "kind", "value_si"},
}

// harvest is what was shot, as rows.
type harvest struct {
	dice  *rand.Rand
	begun time.Time
	rows  map[string][]tableRow
}

const timeText = "2006-01-02T15:04:05.000000000Z"

func (h *harvest) add(table string, st notebook.Stamp, record any, keys ...any) error {
	body, err := json.Marshal(record)
	if h.rows == nil {
		h.rows = map[string][]tableRow{}
	}
	row := tableRow{string(st.ID), 1, string(st.By), st.At.Format(timeText), st.Received.Format(timeText), string(body)}
	h.rows[table] = append(h.rows[table], append(row, keys...))
	return err
}

// years are one archer's sessions with their ends, and readings spread over them.
func (h *harvest) years(a *Archer, impacts, readings int) error {
	at := h.begun
	stamp := func() notebook.Stamp {
		return notebook.Stamp{ID: notebook.NewID(), By: a.Person, At: at, Received: at.Add(time.Second)}
	}
	for shot := 0; shot < impacts; {
		at = at.Add(time.Duration(20+h.dice.IntN(40)) * time.Hour)
		session := notebook.Session{Stamp: stamp(), Bow: a.Bow, Place: "club hall"}
		a.Sessions = append(a.Sessions, session.ID)
		if err := h.add("sessions", session.Stamp, session, string(a.Bow)); err != nil {
			return err
		}
		for number := 1; number <= 12 && shot < impacts; number, shot = number+1, shot+6 {
			at = at.Add(4 * time.Minute)
			end := notebook.End{Stamp: stamp(), Bow: a.Bow, SetUp: a.SetUp, Session: session.ID, Number: number, Face: "122", Impacts: h.six()}
			if err := end.Distance.UnmarshalText([]byte("70 m")); err != nil {
				return err
			}
			if err := h.add("ends", end.Stamp, end, string(a.Bow), string(a.SetUp), string(session.ID), ""); err != nil {
				return err
			}
		}
	}
	for range readings {
		at = at.Add(time.Minute)
		mm := 215 + h.dice.IntN(10)
		r := notebook.Reading{Stamp: stamp(), Bow: a.Bow, SetUp: a.SetUp, Kind: notebook.ReadNockingPoint, Value: float64(mm-205) / 1000, Text: fmt.Sprint(mm-205, " mm"), Unit: "mm"}
		if err := h.add("readings", r.Stamp, r, string(a.Bow), string(a.SetUp), "", "", string(r.Kind), r.Value); err != nil {
			return err
		}
	}
	return nil
}

func (h *harvest) six() (out []notebook.Impact) {
	for i := range 6 {
		x, y := 0.09*h.dice.NormFloat64(), 0.09*h.dice.NormFloat64()
		out = append(out, notebook.Impact{Arrow: fmt.Sprint(i + 1), X: &x, Y: &y})
	}
	return out
}

// store writes the rows, by COPY where there is one.
func (h *harvest) store(ctx context.Context, dir, database string) error {
	for _, table := range []string{"sessions", "ends", "readings"} {
		var err error
		if database != "" {
			err = copyRows(ctx, database, table, h.rows[table])
		} else {
			err = insertRows(ctx, dir, table, h.rows[table])
		}
		if err != nil {
			return fmt.Errorf("%s: %w", table, err)
		}
		delete(h.rows, table)
	}
	return nil
}

func copyRows(ctx context.Context, database, table string, rows []tableRow) (err error) {
	conn, err := pgx.Connect(ctx, database)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close(ctx)) }()
	_, err = conn.CopyFrom(ctx, pgx.Identifier{table}, columnsOf[table], pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) { return rows[i], nil }))
	if err == nil {
		_, err = conn.Exec(ctx, "ANALYZE "+table)
	}
	return err
}

func insertRows(ctx context.Context, dir, table string, rows []tableRow) (err error) {
	db, err := sql.Open("sqlite", "file:"+dir+"/notebook.db?_pragma=busy_timeout(5000)&_pragma=synchronous(OFF)")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	columns, marks := "", ""
	for i, c := range columnsOf[table] {
		if i > 0 {
			columns, marks = columns+", ", marks+", "
		}
		columns, marks = columns+c, marks+"?"
	}
	put, err := tx.PrepareContext(ctx, "INSERT INTO "+table+" ("+columns+") VALUES ("+marks+")")
	if err != nil {
		return errors.Join(err, tx.Rollback())
	}
	for _, row := range rows {
		if _, err := put.ExecContext(ctx, row...); err != nil {
			return errors.Join(err, tx.Rollback())
		}
	}
	return tx.Commit()
}
