package cli

import (
	"path/filepath"
	"strings"
	"testing"
)

// T27: the command line's export of a club stands in its log, also while a
// server has the notebook open.
func TestExportStandsInTheLog(t *testing.T) {
	s := plantedBook(t)
	c := exportCmd{To: filepath.Join(t.TempDir(), "all.zip")}
	c.Data = s.Dir()
	var said strings.Builder
	if err := c.Run(t.Context(), &terminal{out: discard{}, err: &said}); err != nil {
		t.Fatal(err)
	}
	log, err := s.Log(t.Context(), 0, 10)
	if err != nil || len(log) != 1 || log[0].What != "export of the whole notebook" || !strings.HasPrefix(log[0].From, "command line") {
		t.Errorf("the log is %+v, %v; said %s", log, err, said.String())
	}
}
