package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"tautline/notebook"
)

// TableSum is what a table holds: how many rows, and a SHA-256 over every
// column of them but the row number. It is the same on both engines.
type TableSum struct {
	Rows   int64  `json:"rows"`
	SHA256 string `json:"sha256"`
}

// tableSums sums every table of a state, the list of applied migrations left
// out: it holds when each machine applied them.
func tableSums(ctx context.Context, e engine, from asker) (map[string]TableSum, error) {
	tables, err := e.tables(ctx, from)
	if err != nil {
		return nil, err
	}
	out := map[string]TableSum{}
	for _, name := range tables {
		if out[name], err = sumTable(ctx, from, name); err != nil {
			return nil, translate(err, "the notebook could not be read")
		}
	}
	return out, nil
}

// sumTable sums one table.
func sumTable(ctx context.Context, from asker, table string) (s TableSum, err error) {
	columns, numbered, err := columnsOf(ctx, from, table)
	if err != nil {
		return s, err
	}
	return readRows(ctx, from, selectRows(table, columns, numbered), numbered, nil)
}

// readRows sums rows, in their order where they are numbered; of others the
// order does not matter. Each hears of every row, and keeps none; nil: nobody.
func readRows(ctx context.Context, from asker, query string, numbered bool, each func(cells []any) error) (s TableSum, err error) {
	rows, err := from.QueryContext(ctx, query)
	if err != nil {
		return s, err
	}
	defer func() { err = joined(err, rows.Close()) }()
	columns, err := rows.Columns()
	if err != nil {
		return s, err
	}
	cells, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range cells {
		into[i] = &cells[i]
	}
	var line []byte
	var loose []string
	sum := sha256.New()
	for ; rows.Next(); s.Rows++ {
		if err := rows.Scan(into...); err != nil {
			return s, err
		}
		line = line[:0]
		for _, c := range cells {
			line = appendCell(line, c)
		}
		if numbered {
			sum.Write(line) // never fails (package hash)
		} else {
			one := sha256.Sum256(line)
			loose = append(loose, string(one[:]))
		}
		if each != nil {
			if err := each(cells); err != nil {
				return s, err
			}
		}
	}
	slices.Sort(loose)
	for _, one := range loose {
		sum.Write([]byte(one))
	}
	s.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return s, rows.Err()
}

// appendCell writes a value with its length before it, so that no two rows
// read alike. The columns are texts, whole numbers and numbers.
func appendCell(line []byte, c any) []byte {
	var short [32]byte
	var text []byte
	switch c := c.(type) {
	case nil:
		return append(line, '-')
	case string:
		line = append(strconv.AppendInt(line, int64(len(c)), 10), ':')
		return append(line, c...)
	case []byte:
		text = c
	case int64:
		text = strconv.AppendInt(short[:0], c, 10)
	case float64:
		text = strconv.AppendFloat(short[:0], c, 'g', -1, 64)
	default:
		text = fmt.Append(nil, c)
	}
	line = append(strconv.AppendInt(line, int64(len(text)), 10), ':')
	return append(line, text...)
}

// columnsOf gives a table's columns by name, the row number left out, and
// whether it has one.
func columnsOf(ctx context.Context, from asker, table string) (columns []string, numbered bool, err error) {
	rows, err := from.QueryContext(ctx, "SELECT * FROM "+table+" LIMIT 0")
	if err != nil {
		return nil, false, err
	}
	columns, err = rows.Columns()
	if err = errors.Join(err, rows.Close()); err != nil {
		return nil, false, err
	}
	slices.Sort(columns)
	if i, found := slices.BinarySearch(columns, "seq"); found {
		columns, numbered = slices.Delete(columns, i, i+1), true
	}
	return columns, numbered, nil
}

func selectRows(table string, columns []string, numbered bool) string {
	query := "SELECT " + strings.Join(columns, ", ") + " FROM " + table
	if numbered {
		query += " ORDER BY seq"
	}
	return query
}

// differ names the first table whose content is not what it should be, "" for
// none.
func differ(want, have map[string]TableSum) string {
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if want[name] != have[name] {
			return name
		}
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if _, ok := want[name]; !ok {
			return name
		}
	}
	return ""
}

// rowsAtOnce are inserted by one statement, which is read once for a table:
// reading it anew each time took as long as a third of the inserting.
const rowsAtOnce = 64

// copyRows inserts every row of a table into the table of the same name while
// the next are read, and sums what was read.
func copyRows(ctx context.Context, from asker, to *sql.Tx, table string) (s TableSum, err error) {
	columns, numbered, err := columnsOf(ctx, from, table)
	if err != nil {
		return s, err
	}
	full, err := to.PrepareContext(ctx, insertRows(table, columns, rowsAtOnce))
	if err != nil {
		return s, err
	}
	defer func() { err = joined(err, full.Close()) }()
	err = handOn(ctx,
		func(ctx context.Context, on func([]any) error) (err error) {
			s, err = readPieces(ctx, from, selectRows(table, columns, numbered), numbered, on)
			return err
		},
		func(ctx context.Context, piece []any) (err error) {
			if n := len(piece) / len(columns); n == rowsAtOnce {
				_, err = full.ExecContext(ctx, piece...)
			} else {
				_, err = to.ExecContext(ctx, insertRows(table, columns, n), piece...)
			}
			return err
		})
	return s, err
}

// readPieces reads rows and hands their cells on, many rows at once.
func readPieces(ctx context.Context, from asker, query string, numbered bool, on func([]any) error) (s TableSum, err error) {
	var piece []any
	s, err = readRows(ctx, from, query, numbered, func(cells []any) error {
		if piece = append(piece, cells...); len(piece) < rowsAtOnce*len(cells) {
			return nil
		}
		full := piece
		piece = nil
		return on(full)
	})
	if err == nil && len(piece) > 0 {
		err = on(piece)
	}
	return s, err
}

// insertRows is the statement that inserts n rows.
func insertRows(table string, columns []string, n int) string {
	row := "(" + strings.TrimSuffix(strings.Repeat("?, ", len(columns)), ", ") + ")"
	return "INSERT INTO " + table + " (" + strings.Join(columns, ", ") + ") VALUES " + strings.TrimSuffix(strings.Repeat(row+", ", n), ", ")
}

// inOrder puts the tables that others refer to first.
func (s *Store) inOrder(tables []string) (out []string) {
	for _, k := range s.shelves() {
		if slices.Contains(tables, k.table()) {
			out = append(out, k.table())
		}
	}
	for _, name := range tables {
		if !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// schemaVersion is the number of the last migration applied.
func schemaVersion(ctx context.Context, from asker) (version int64, err error) {
	err = from.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version WHERE is_applied").Scan(&version)
	return version, translate(err, "the notebook's version cannot be read")
}

// newest is the version that this program writes.
func newest() int64 {
	files, err := migrations.ReadDir("migrations")
	if err != nil {
		return 0 // they are embedded
	}
	return int64(len(files))
}

// tooNew is the refusal of what a newer program wrote.
func tooNew(have int64) error {
	return &notebook.Error{Code: notebook.TooNew, Message: "this notebook was written by a newer program (version " + strconv.FormatInt(have, 10) + ", this one knows " + strconv.FormatInt(newest(), 10) + ")",
		Hint: "use the newer program; nothing was changed. To look at it with this one: tautline serve --read-only"}
}
