package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// table keeps one noun. The SQL is built from the constants of nouns.go alone,
// never from data.
type table[T notebook.Record] struct {
	store *Store
	name  string
	// keys are the columns to search by, and where their values come from.
	keys    []string
	values  func(T) []any
	receive func(*T, time.Time) // stamps Received
	version func(T) int         // nil: the noun has one version only
	// common says that a list is not narrowed to bows.
	common bool
	// guard refuses what the records already there do not allow; nil: nothing.
	guard func(context.Context, asker, T) error
	// deletes says that a record of it takes another out of sight, which must
	// work on a full disk too.
	deletes bool
}

// timeFormat sorts as text.
const timeFormat = "2006-01-02T15:04:05.000000000Z"

// Put stores a record, see notebook.Records.
func (t *table[T]) Put(ctx context.Context, actor notebook.ID, r T) (T, notebook.Outcome, error) {
	var zero T
	if err := r.Check().OrNil(); err != nil {
		return zero, "", err
	}
	if err := t.store.Writable(); err != nil {
		return zero, "", err
	}
	var kept T
	var outcome notebook.Outcome
	put := func() (err error) {
		kept, outcome, err = t.put(ctx, r)
		return translate(err, "the record could not be stored")
	}
	var err error
	if t.deletes {
		err = t.store.deleting(put)
	} else {
		err = put()
	}
	if err != nil {
		t.store.noteFailure(err)
		return zero, "", err
	}
	t.store.refill()
	return kept, outcome, nil
}

// noteFailure stops all writing after a failed write to the disk: what the
// disk holds is unknown until the file is opened and checked anew.
func (s *Store) noteFailure(err error) {
	var e *notebook.Error
	if errors.As(err, &e) && e.Code == notebook.ReadOnly {
		s.broken.CompareAndSwap(nil, e)
	}
}

func (t *table[T]) put(ctx context.Context, r T) (kept T, outcome notebook.Outcome, err error) {
	tx, err := t.store.write.BeginTx(ctx, nil)
	if err != nil {
		return kept, "", err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, ignoreDone(tx.Rollback()))
		}
	}()
	old, found, err := t.latest(ctx, tx, r.Stamped().ID)
	if err != nil {
		return kept, "", err
	}
	outcome = notebook.Created
	if found {
		if outcome, err = t.compare(old, r); err != nil || outcome == notebook.Already {
			return old, outcome, errors.Join(err, ignoreDone(tx.Rollback()))
		}
	}
	if t.guard != nil {
		if err = t.guard(ctx, tx, r); err != nil {
			return kept, "", err
		}
	}
	kept, err = t.insert(ctx, tx, r, t.store.now())
	if err != nil {
		return kept, "", err
	}
	return kept, outcome, tx.Commit()
}

func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
}

// compare says whether a record that is already there is the same, the next
// version, or something else.
func (t *table[T]) compare(old, r T) (notebook.Outcome, error) {
	same, err := t.same(old, r)
	switch {
	case err != nil:
		return "", err
	case same:
		return notebook.Already, nil
	case t.version == nil:
		return "", &notebook.Error{Code: notebook.Different, Field: "/id", Message: "this id already holds a different record, which was kept", Hint: "make a new id; to put a reading right, send a new one that names the old in corrects"}
	case t.version(r) != t.version(old)+1:
		return "", &notebook.Error{Code: notebook.Outdated, Field: "/version", Message: fmt.Sprintf("someone changed this meanwhile: the stored version is %d", t.version(old)), Hint: "look at the stored one, then send your change as the next version"}
	}
	return notebook.Updated, nil
}

// same compares two records but for when they were received.
func (t *table[T]) same(a, b T) (bool, error) {
	t.receive(&a, time.Time{})
	t.receive(&b, time.Time{})
	x, err := json.Marshal(a)
	if err != nil {
		return false, err
	}
	y, err := json.Marshal(b)
	return bytes.Equal(x, y), err
}

func (t *table[T]) insert(ctx context.Context, tx *sql.Tx, r T, received time.Time) (T, error) {
	received = received.UTC()
	t.receive(&r, received)
	body, err := json.Marshal(r)
	if err != nil {
		return r, err
	}
	version := 1
	if t.version != nil {
		version = t.version(r)
	}
	st := r.Stamped()
	args := []any{string(st.ID), version, string(st.By), stampTime(st.At), stampTime(received), string(body)}
	args = append(args, t.values(r)...)
	columns := append([]string{"id", "version", "by_person", "at_utc", "received_utc", "body"}, t.keys...)
	marks := make([]string, len(args))
	for i := range marks {
		marks[i] = "$" + strconv.Itoa(i+1)
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO "+t.name+" ("+strings.Join(columns, ", ")+") VALUES ("+strings.Join(marks, ", ")+")", args...)
	return r, err
}

// asker is a database or a transaction.
type asker interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

func (t *table[T]) latest(ctx context.Context, from asker, id notebook.ID) (r T, found bool, err error) {
	var body string
	err = from.QueryRowContext(ctx, "SELECT body FROM "+t.name+" WHERE id = $1 ORDER BY version DESC LIMIT 1", string(id)).Scan(&body)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return r, false, nil
	case err != nil:
		return r, false, err
	}
	return r, true, json.Unmarshal([]byte(body), &r)
}

// Get gives a record, see notebook.Records.
func (t *table[T]) Get(ctx context.Context, actor notebook.ID, id notebook.ID) (T, error) {
	r, found, err := t.latest(ctx, t.store.read, id)
	switch {
	case err != nil:
		return r, translate(err, "the record could not be read")
	case !found:
		return r, &notebook.Error{Code: notebook.NotFound, Message: "there is no such record", Hint: "go back to the list and open it from there"}
	}
	return r, nil
}

const (
	usualRows = 200
	mostRows  = 1000
)

// List gives a page, see notebook.Records.
func (t *table[T]) List(ctx context.Context, actor notebook.ID, q notebook.Query) (page notebook.Page[T], err error) {
	limit := q.Limit
	if limit <= 0 {
		limit = usualRows
	}
	limit = min(limit, mostRows)
	query, args, err := t.where(q)
	if err != nil {
		return page, err
	}
	order := " ORDER BY seq LIMIT "
	if q.Newest {
		order = " ORDER BY seq DESC LIMIT "
	}
	rows, err := t.store.read.QueryContext(ctx, query+order+strconv.Itoa(limit+1), args...)
	if err != nil {
		return page, translate(err, "the list could not be read")
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	var bodies [][]byte
	for rows.Next() {
		if len(bodies) == limit {
			page.Next = page.Last
			break
		}
		var seq int64
		var body []byte
		if err := rows.Scan(&seq, &body); err != nil {
			return page, translate(err, "the list could not be read")
		}
		page.Last, bodies = strconv.FormatInt(seq, 10), append(bodies, body)
	}
	if err := rows.Err(); err != nil {
		return page, translate(err, "the list could not be read")
	}
	page.Rows, err = decode[T](bodies)
	return page, err
}

// decodedAtOnce is how many records are worth another processor.
const decodedAtOnce = 100

// decode reads bodies, long lists on every processor.
func decode[T any](bodies [][]byte) ([]T, error) {
	if len(bodies) == 0 {
		return nil, nil
	}
	out, pieces := make([]T, len(bodies)), min(runtime.GOMAXPROCS(0), runtime.NumCPU(), 1+len(bodies)/decodedAtOnce)
	errs := make([]error, pieces)
	part := func(piece int) {
		for i := piece * len(bodies) / pieces; i < (piece+1)*len(bodies)/pieces && errs[piece] == nil; i++ {
			errs[piece] = json.Unmarshal(bodies[i], &out[i])
		}
	}
	var group sync.WaitGroup
	for piece := 1; piece < pieces; piece++ {
		group.Go(func() { part(piece) })
	}
	part(0)
	group.Wait()
	if err := errors.Join(errs...); err != nil {
		return nil, &notebook.Error{Code: notebook.Damaged, Message: "a stored record cannot be read", Hint: "run: tautline verify", Cause: err}
	}
	return out, nil
}

// where builds the question; only the latest version of each record is listed.
func (t *table[T]) where(q notebook.Query) (string, []any, error) {
	query := "SELECT seq, body FROM " + t.name + " AS r WHERE "
	if t.version == nil {
		query += "version = 1"
	} else {
		query += "version = (SELECT max(version) FROM " + t.name + " WHERE id = r.id)"
	}
	var args []any
	add := func(condition string, value any) {
		args = append(args, value)
		query += " AND " + strings.ReplaceAll(condition, "?", "$"+strconv.Itoa(len(args)))
	}
	for _, k := range []struct {
		column string
		value  notebook.ID
	}{{"bow", q.Bow}, {"setup", q.SetUp}, {"session", q.Session}, {"trial", q.Trial}, {"recording", q.Recording}, {"target", q.Target}, {"kind", notebook.ID(q.Kind)}} {
		if k.value != "" && t.has(k.column) {
			add(k.column+" = ?", string(k.value))
		}
	}
	if t.name == retractionsTable && q.Bow != "" {
		add(targetOfBow("r.target"), string(q.Bow))
	}
	if t.name == retractionsTable && q.Session != "" {
		add(targetOfSession, string(q.Session))
	}
	if scope := t.scope(q.Only, &args); scope != "" {
		query += " AND " + scope
	}
	if q.Correcting {
		query += ` AND body LIKE '%"corrects":"%'` // inside a text the quotes are escaped
	}
	if !q.Retracted {
		query += " AND id NOT IN (SELECT target FROM retractions WHERE id NOT IN (SELECT target FROM retractions))"
	}
	if q.After != "" {
		seq, err := strconv.ParseInt(q.After, 10, 64)
		if err != nil {
			return "", nil, &notebook.Error{Code: notebook.Invalid, Field: "/after", Message: "this is not a place in the list", Hint: "use the cursor that the page before gave", Cause: err}
		}
		if q.Newest {
			add("seq < ?", seq)
		} else {
			add("seq > ?", seq)
		}
	}
	return query, args, nil
}

// scope is the condition that a row belongs to some bows; "" for none.
func (t *table[T]) scope(only *notebook.Scope, args *[]any) string {
	if only == nil || t.common {
		return ""
	}
	mark := func(id notebook.ID) string {
		*args = append(*args, string(id))
		return "$" + strconv.Itoa(len(*args))
	}
	bows := func(column string) string {
		if len(only.Bows) == 0 {
			return "1 = 0"
		}
		marks := make([]string, len(only.Bows))
		for i, id := range only.Bows {
			marks[i] = mark(id)
		}
		return column + " IN (" + strings.Join(marks, ", ") + ")"
	}
	loose := func() string { return "bow = '' AND by_person = " + mark(only.Writer) }
	switch {
	case t.name == "bows":
		return bows("id")
	case t.has("bow"):
		return "(" + bows("bow") + " OR " + loose() + ")"
	case t.has("trial"):
		return "trial IN (SELECT id FROM trials WHERE " + bows("bow") + ")"
	case t.has("recording"):
		return "recording IN (SELECT id FROM recordings WHERE " + bows("bow") + " OR " + loose() + ")"
	}
	return ""
}

func (t *table[T]) has(column string) bool {
	for _, k := range t.keys {
		if k == column {
			return true
		}
	}
	return false
}
