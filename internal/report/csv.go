package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// WriteCSV writes the sheet's facts and tables for a spreadsheet (RFC 4180):
// each block under its heading, an empty line between blocks.
func (s Sheet) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	for i, block := range s.Blocks {
		rows := block.rows()
		if len(rows) == 0 {
			continue
		}
		if i > 0 {
			rows = append([][]string{{""}}, rows...)
		}
		for _, row := range rows {
			if err := out.Write(safeCells(row)); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func (k Block) rows() (rows [][]string) {
	if k.Heading != "" && (len(k.Facts) > 0 || k.Table != nil) {
		rows = append(rows, []string{k.Heading})
	}
	for _, f := range k.Facts {
		rows = append(rows, []string{f.Label, f.Value, f.Doubt})
	}
	for _, l := range k.Labels {
		row := []string{l.Name, l.Address}
		if l.Archer != "" {
			row = append(row, l.Archer)
		}
		rows = append(rows, row)
	}
	if k.Table != nil {
		rows = append(append(rows, k.Table.Header), k.Table.Rows...)
	}
	return rows
}

// safeCells keeps a spreadsheet from running a text as a formula. A negative
// number stays a number.
func safeCells(row []string) []string {
	out := make([]string, len(row))
	for i, cell := range row {
		out[i] = cell
		if strings.IndexAny(cell, "=+-@\t\r\n＝＋－＠") == 0 && !isNumber(cell) {
			out[i] = "'" + cell
		}
	}
	return out
}

func isNumber(s string) bool {
	_, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return err == nil && strings.ContainsAny(s, "0123456789")
}
