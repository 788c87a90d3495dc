package server_test

import (
	"context"

	"tautline/internal/report"
	"tautline/notebook"
	"tautline/unit"
)

// waiting is a maker of sheets that works until it is stopped, and tells why.
type waiting struct{ left chan error }

// Sheet waits.
func (w waiting) Sheet(ctx context.Context, _ notebook.ID, _ string, _ notebook.ID, _ unit.System) (report.Sheet, error) {
	<-ctx.Done()
	w.left <- ctx.Err()
	return report.Sheet{}, ctx.Err()
}
