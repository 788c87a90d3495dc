//go:build unix

package drill

import (
	"context"
	"errors"
	"sync"

	"tautline/internal/store/pgtest"
)

// cluster is the PostgreSQL server of a run, started when first asked for.
var cluster struct {
	mu     sync.Mutex
	server *pgtest.Server
}

// Postgres makes an empty PostgreSQL database and gives its address. The
// server is shared by all drills; StopPostgres ends it.
func (r *Run) Postgres(ctx context.Context) (string, error) {
	cluster.mu.Lock()
	defer cluster.mu.Unlock()
	if cluster.server == nil {
		s, err := pgtest.Start()
		if errors.Is(err, pgtest.ErrMissing) {
			return "", Skipf("%v", err)
		}
		if err != nil {
			return "", err
		}
		cluster.server = s
	}
	return cluster.server.Database(ctx)
}

// StopPostgres ends the server that drills have used, if any.
func StopPostgres() error {
	cluster.mu.Lock()
	defer cluster.mu.Unlock()
	if cluster.server == nil {
		return nil
	}
	s := cluster.server
	cluster.server = nil
	return s.Stop()
}
