package server_test

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"tautline/notebook"
	"tautline/unit"
)

func unitLength(mm float64) unit.Length { return unit.Length(mm) * unit.Millimetre }

// dump prints one noun: how many records, and each of them.
func dump[T notebook.Record](s *site, out *strings.Builder, name string, records notebook.Records[T]) {
	s.t.Helper()
	page, err := records.List(context.Background(), "", notebook.Query{Retracted: true, Limit: 1000})
	if err != nil {
		s.t.Fatal(err)
	}
	fmt.Fprintf(out, "%s %d\n", name, len(page.Rows))
	for _, r := range page.Rows {
		raw, err := json.Marshal(r)
		if err != nil {
			s.t.Fatal(err)
		}
		fmt.Fprintf(out, "%s\n", raw)
	}
}
