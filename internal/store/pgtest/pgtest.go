//go:build unix

// Package pgtest runs a PostgreSQL server of its own for tests: Debian's
// programs, a private folder, a socket in it and no network.
package pgtest

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver
)

// Server is a running server.
type Server struct {
	dir  string
	bin  string
	as   *syscall.Credential
	cmd  *exec.Cmd
	done chan error
	made atomic.Int64
}

// ErrMissing says that PostgreSQL's programs are not on this machine.
var ErrMissing = errors.New("pgtest: no PostgreSQL programs in /usr/lib/postgresql; install Debian's package postgresql")

// Start makes a fresh server. Its programs refuse to run as root, so root runs
// them as the user that Debian's package made.
func Start() (*Server, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		return nil, ErrMissing
	}
	s := &Server{bin: filepath.Dir(found[len(found)-1]), done: make(chan error, 1)}
	if s.dir, err = os.MkdirTemp("", "tautline-pg-"); err != nil {
		return nil, err
	}
	if err := s.start(); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	return s, nil
}

// Test is what For needs of a test.
type Test interface {
	Helper()
	Skip(...any)
	Fatal(...any)
	Error(...any)
	Cleanup(func())
}

// For makes a fresh server for one test, which is skipped where PostgreSQL's
// programs are not.
func For(t Test) *Server {
	t.Helper()
	s, err := Start()
	if errors.Is(err, ErrMissing) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Stop(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func (s *Server) start() error {
	if err := s.lend(); err != nil {
		return err
	}
	data := filepath.Join(s.dir, "data")
	if out, err := s.command("initdb", "-D", data, "-U", "tautline", "-A", "trust", "-E", "UTF8", "--locale=C").CombinedOutput(); err != nil {
		return fmt.Errorf("pgtest: initdb: %w: %s", err, out)
	}
	return s.Restart()
}

// lend gives the folder to the user that runs the server.
func (s *Server) lend() error {
	if os.Geteuid() != 0 {
		return nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return ErrMissing
	}
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return err
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	if err != nil {
		return err
	}
	s.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	return os.Chown(s.dir, int(uid), int(gid))
}

func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(s.bin, name), args...)
	c.Dir = s.dir
	c.SysProcAttr = &syscall.SysProcAttr{Credential: s.as}
	return c
}

// wait until the server answers.
func (s *Server) wait() error {
	ctx, stop := context.WithTimeout(context.Background(), 60*time.Second)
	defer stop()
	db, err := sql.Open("pgx", s.dsn("postgres"))
	if err != nil {
		return err
	}
	for {
		if err = db.PingContext(ctx); err == nil || ctx.Err() != nil {
			return errors.Join(err, db.Close())
		}
		time.Sleep(50 * time.Millisecond)
	}
}

func (s *Server) dsn(database string) string {
	return "host=" + s.dir + " user=tautline dbname=" + database
}

// Database makes an empty database and gives its address.
func (s *Server) Database(ctx context.Context) (dsn string, err error) {
	return s.create(ctx, "")
}

// Copy makes a database like another, which nobody may have open, and gives its
// address.
func (s *Server) Copy(ctx context.Context, of string) (dsn string, err error) {
	return s.create(ctx, " TEMPLATE "+strings.TrimPrefix(of, s.dsn("")))
}

// Drop removes a database, whoever has it open.
func (s *Server) Drop(ctx context.Context, dsn string) error {
	return s.asked(ctx, "DROP DATABASE "+strings.TrimPrefix(dsn, s.dsn(""))+" WITH (FORCE)")
}

func (s *Server) create(ctx context.Context, how string) (dsn string, err error) {
	name := fmt.Sprintf("notebook_%d", s.made.Add(1))
	return s.dsn(name), s.asked(ctx, "CREATE DATABASE "+name+how)
}

func (s *Server) asked(ctx context.Context, statement string) (err error) {
	db, err := sql.Open("pgx", s.dsn("postgres"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	_, err = db.ExecContext(ctx, statement)
	return err
}

// Data is the folder of the server's tables and journal.
func (s *Server) Data() string { return filepath.Join(s.dir, "data") }

// Kill ends the server at once, without a checkpoint, so that the next start
// recovers from its log.
func (s *Server) Kill() error {
	err := s.cmd.Process.Signal(syscall.SIGQUIT)
	<-s.done
	return err
}

// Restart starts the server again on its files.
func (s *Server) Restart() error {
	s.cmd = s.command("postgres", "-D", filepath.Join(s.dir, "data"), "-k", s.dir, "-c", "listen_addresses=", "-c", "max_connections=100")
	if err := s.cmd.Start(); err != nil {
		return err
	}
	go func() { s.done <- s.cmd.Wait() }()
	return s.wait()
}

// Stop ends the server and removes its folder.
func (s *Server) Stop() error {
	var err error
	if s.cmd != nil && s.cmd.Process != nil {
		err = s.cmd.Process.Signal(syscall.SIGINT)
		if err == nil {
			<-s.done
		}
	}
	return errors.Join(err, os.RemoveAll(s.dir))
}
