package server

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"runtime"
	"time"

	"tautline/notebook"
)

// Limits of what a request may bring. Zero fields take the defaults.
type Limits struct {
	JSONBytes      int64         // body of an ordinary request; default 1 MiB
	RecordingBytes int64         // one recording; default 200 MB
	PersonPerDay   int64         // recordings that one person of a club sends in a day; default 2 GB
	ListRows       int           // rows of one answer to a list; default 500
	Compute        time.Duration // longest time one prediction may take; default 60 s
	UploadIdle     time.Duration // longest pause inside an upload; default 30 s
	UploadTotal    time.Duration // longest upload; default 45 min (200 MB at 0.75 Mbit/s takes 36)
}

func (l Limits) withDefaults() Limits {
	d := Limits{
		JSONBytes: 1 << 20, RecordingBytes: 200_000_000, PersonPerDay: 2_000_000_000, ListRows: 500,
		Compute: time.Minute, UploadIdle: 30 * time.Second, UploadTotal: 45 * time.Minute,
	}
	if l.JSONBytes > 0 {
		d.JSONBytes = l.JSONBytes
	}
	if l.RecordingBytes > 0 {
		d.RecordingBytes = l.RecordingBytes
	}
	if l.PersonPerDay > 0 {
		d.PersonPerDay = l.PersonPerDay
	}
	if l.ListRows > 0 {
		d.ListRows = l.ListRows
	}
	if l.Compute > 0 {
		d.Compute = l.Compute
	}
	if l.UploadIdle > 0 {
		d.UploadIdle = l.UploadIdle
	}
	if l.UploadTotal > 0 {
		d.UploadTotal = l.UploadTotal
	}
	return d
}

// Config says what the server serves. Notebook is required; the rest has a default or switches a feature off.
type Config struct {
	Notebook notebook.Store    // the records
	Accounts notebook.Accounts // who may log in; nil: one person's notebook, without login. Notebook must be notebook.Guarded then
	// FactorForAll asks every login for a second factor, not only an owner's.
	FactorForAll bool
	Proxied      bool                                  // a proxy on this machine is trusted to say, in X-Forwarded-For, where a request came from
	Sheets       Sheets                                // printed pages; nil: the sheet routes answer 501
	Demo         DemoLoader                            // the invented notebook; nil: not offered
	Invented     func(bow notebook.ID) bool            // which bows are the demo's, and marked so everywhere; nil: none
	App          fs.FS                                 // the built pages; nil or without index.html: a plain page says how to build them
	Hosts        []string                              // names, without port, under which the server may be asked; default localhost, 127.0.0.1, ::1
	Trust        http.Handler                          // the page at /trust about the notebook's own certificate; nil: there is none
	Public       string                                // where other devices find the notebook, such as https://192.168.1.20:8443/; printed on labels. Empty: where the request was sent
	Version      string                                // shown by /api/v1/health; default "dev"
	Log          *slog.Logger                          // default: nothing is logged
	Backups      func() BackupStanding                 // how the automatic backups stand; nil: none are made
	Support      func(context.Context) (string, error) // a text for whoever helps, without a name in it; nil: not offered
	Space        func() SpaceStanding                  // the room on the notebook's disk; nil: nobody looks
	Hanging      func() bool                           // too many decoders of sound files hang, so that it is no longer ready; nil: never
	Stopping     func() bool                           // the program is about to stop, so that it is no longer ready; nil: never
	Metrics      bool                                  // /metrics answers other machines too, not only this one
	Now          func() time.Time                      // default time.Now; stamps what the server receives
	NewID        func() notebook.ID                    // default notebook.NewID; names the owner of a new notebook
	// RefitAfter is how long after a reading its bow is fitted anew, so that
	// readings noted together make one fit; default 1 s, negative: never.
	RefitAfter time.Duration
	Cores      int // processors that there are for long calculations and requests; default runtime.GOMAXPROCS
	Limits     Limits
}

// validate reports what is missing.
func (c Config) validate() error {
	if c.Notebook == nil {
		return errors.New("server: Config.Notebook is missing")
	}
	return nil
}

func (c Config) withDefaults() Config {
	if len(c.Hosts) == 0 {
		c.Hosts = []string{"localhost", "127.0.0.1", "::1"}
	}
	if c.Version == "" {
		c.Version = "dev"
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.NewID == nil {
		c.NewID = notebook.NewID
	}
	if c.RefitAfter == 0 {
		c.RefitAfter = refitAfter
	}
	if c.Cores < 1 {
		c.Cores = runtime.GOMAXPROCS(0)
	}
	c.Limits = c.Limits.withDefaults()
	return c
}
