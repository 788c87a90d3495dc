package cli

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"tautline/internal/demo"
	"tautline/internal/report"
	"tautline/internal/server"
	"tautline/internal/store"
	"tautline/internal/trust"
	"tautline/notebook"
	"tautline/web"
)

// serveCmd opens a notebook in the browser.
type serveCmd struct {
	place
	Listen        string        `help:"Address to listen on; this machine only by default. Any other needs --accounts and --cert." default:"127.0.0.1:8421" placeholder:"HOST:PORT"`
	Accounts      bool          `help:"People log in; each sees what is theirs or shared with them."`
	FactorAll     bool          `name:"second-factor-for-all" help:"Every login needs a second factor within a week, not only the owner's."`
	OwnerLink     bool          `help:"Print a new link for the owner of the notebook, who lost password and code."`
	Cert          string        `help:"Certificate for HTTPS, a PEM file." type:"path" placeholder:"FILE"`
	Key           string        `help:"The certificate's key, a PEM file." type:"path" placeholder:"FILE"`
	Host          []string      `help:"A name under which the server is asked, such as bows.example.org." placeholder:"NAME"`
	Proxied       bool          `help:"A proxy on this machine does HTTPS and says where requests come from."`
	Lan           bool          `help:"Let phones of the local network in too, by HTTPS with a certificate of the notebook's own. People log in."`
	NoRefit       bool          `help:"Do not fit a bow anew after each reading; its page still does when asked."`
	ReadOnly      bool          `help:"Only look: nothing is written, also into a notebook of a newer program. For this machine alone."`
	Metrics       bool          `help:"Let other machines read /metrics too (Prometheus); this machine always may."`
	LogRequests   bool          `help:"Print one line of JSON for every request: route, status, time; no names or addresses."`
	BackupEvery   time.Duration `help:"How often a proved backup is made by itself; 0 for never." default:"24h"`
	UploadsPerDay int64         `help:"How many MB of recordings one person of a club may send in a day." default:"2000" placeholder:"MB"`
	alone         bool          // the demo's own notebook: there is nothing to put it beside
	hangs         hangs         // zero: newHangs
	LanAt         string        `help:"Which of this machine's local addresses --lan takes; found by itself." placeholder:"IP[:PORT]"`
}

// Help shows an example.
func (serveCmd) Help() string {
	return `Example:
  tautline serve --data ~/bows

Opens the notebook in that folder, making one if there is none, and prints the
address of its pages. Stop with Ctrl-C: running work is finished first. A proved
backup is made every day; see tautline restore.

  tautline serve --lan

lets phones in the same network in and prints what to scan.`
}

// Run serves until it is stopped.
func (c serveCmd) Run(ctx context.Context, t *terminal) error {
	if err := c.check(); err != nil {
		return err
	}
	c.Accounts = c.Accounts || c.Lan
	if inSight(c.Database) {
		t.warnf("The database's password is on the command line, where everyone on this machine can read it: put it into PGPASSFILE, PGPASSWORD or ~/.pgpass.")
	}
	dir, options, err := c.find()
	if err != nil {
		return err
	}
	at, err := c.open(ctx)
	if err != nil {
		return err
	}
	book, err := c.openBook(ctx, dir, options)
	if err != nil {
		return errors.Join(err, at.close())
	}
	return errors.Join(c.serve(t, book, at), book.Close())
}

// inSight reports an address with a password that was given as an argument,
// which any user of the machine can list.
func inSight(address string) bool {
	secret := strings.Contains(address, "password=")
	if u, err := url.Parse(address); err == nil && u.User != nil {
		_, secret = u.User.Password()
	}
	return secret && slices.ContainsFunc(os.Args[1:], func(arg string) bool { return strings.Contains(arg, address) })
}

// openBook opens the notebook, to look only if that was asked for.
func (c serveCmd) openBook(ctx context.Context, dir string, o store.Options) (*store.Store, error) {
	if c.ReadOnly {
		o.AnyVersion = true
		return store.Look(ctx, dir, o)
	}
	return store.Open(ctx, dir, o)
}

// door is the machine's own address, open from the start: the gate says that
// the notebook is being opened until it is.
type door struct {
	address string
	gate    *server.Gate
	ctx     context.Context // of everything that serves
	stop    context.CancelFunc
	ended   chan error
}

// close shuts the door and forgets why it was open.
func (d *door) close() error {
	d.stop()
	return <-d.ended
}

// check refuses what would let strangers in or send passwords in the clear.
func (c serveCmd) check() error {
	host, _, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return usageError{fmt.Errorf("cannot listen on %s; write it like 127.0.0.1:8421", c.Listen)}
	}
	ip := net.ParseIP(host)
	here := host == "localhost" || ip != nil && ip.IsLoopback()
	switch {
	case (c.Cert == "") != (c.Key == ""):
		return usageError{errors.New("--cert and --key belong together")}
	case c.ReadOnly && (c.Accounts || c.Lan || !here || c.Proxied):
		return usageError{errors.New("--read-only shows everything to whoever asks, so it is for this machine alone: leave out --accounts, --lan, --proxied and --listen beyond it")}
	case c.LanAt != "" && !c.Lan:
		return usageError{errors.New("--lan-at belongs to --lan")}
	case c.Lan && (c.Cert != "" || c.Proxied || !here):
		return usageError{errors.New("--lan brings its own certificate and addresses: leave out --cert, --key, --proxied and --listen beyond this machine, or leave out --lan")}
	case !here && !c.Accounts:
		return usageError{fmt.Errorf("listening on %s lets others in: add --accounts, so that people log in", c.Listen)}
	case !here && c.Cert == "":
		return usageError{fmt.Errorf("listening on %s without HTTPS would send passwords in the clear: add --cert and --key, or listen on 127.0.0.1 behind a proxy with --proxied", c.Listen)}
	}
	return nil
}

// serve lets people at an open notebook.
func (c serveCmd) serve(t *terminal, book *store.Store, at *door) error {
	o := server.Config{Notebook: book, Proxied: c.Proxied, FactorForAll: c.FactorAll, Demo: demoDoor{book}, Metrics: c.Metrics, Limits: server.Limits{PersonPerDay: c.UploadsPerDay * 1_000_000}, Stopping: func() bool { return at.ctx.Err() != nil }}
	o.Space = func() server.SpaceStanding {
		now := book.Space()
		return server.SpaceStanding{Free: now.Free, Total: now.Total, Low: now.Low()}
	}
	if c.alone || c.Accounts || c.ReadOnly {
		o.Demo = nil // with accounts, invented bows would stand among everybody's
	}
	if c.NoRefit {
		o.RefitAfter = -1
	}
	if c.Accounts {
		o.Notebook, o.Accounts = notebook.Guarded(book), book
	}
	if len(c.Host) > 0 {
		o.Hosts = append([]string{"localhost", "127.0.0.1", "::1"}, c.Host...)
	}
	var outside *lan
	if c.Lan {
		var err error
		if outside, err = c.openLAN(book.Dir()); err != nil {
			return errors.Join(err, at.close())
		}
		o.Hosts = append([]string{"localhost", "127.0.0.1", "::1"}, outside.names...)
		o.Trust, o.Public = outside.page, outside.address()
	}
	if err := c.ownerLink(at.ctx, t, book, at.address); err != nil {
		return errors.Join(err, at.close(), outside.close())
	}
	return c.run(t, book, o, at, outside)
}

// open opens the door to this machine.
func (c serveCmd) open(ctx context.Context) (*door, error) {
	listener, address, err := c.listen()
	if err != nil {
		return nil, err
	}
	d := &door{address: address, gate: &server.Gate{}, ended: make(chan error, 1)}
	d.ctx, d.stop = context.WithCancel(ctx)
	go func() { d.ended <- server.Run(d.ctx, listener, d.gate, nil) }()
	return d, nil
}

// listen listens, and says under which address.
func (c serveCmd) listen() (net.Listener, string, error) {
	listener, err := server.Listen(c.Listen)
	if err != nil {
		return nil, "", err
	}
	address := "http://" + listener.Addr().String() + "/"
	if c.Cert != "" {
		pair, err := tls.LoadX509KeyPair(c.Cert, c.Key)
		if err != nil {
			return nil, "", errors.Join(fmt.Errorf("the certificate cannot be used: %w", err), listener.Close())
		}
		strong := trust.Strong()
		strong.Certificates = []tls.Certificate{pair}
		listener = tls.NewListener(listener, strong)
		address = "https://" + listener.Addr().String() + "/"
	}
	if len(c.Host) > 0 && !c.Lan {
		address = "https://" + c.Host[0] + "/"
	}
	return listener, address, nil
}

// ownerLink prints the link by which a new notebook with accounts gets its
// owner.
func (c serveCmd) ownerLink(ctx context.Context, t *terminal, book *store.Store, address string) error {
	if !c.Accounts {
		return nil
	}
	link, err := server.OwnerLink(ctx, book, book.People(), time.Now(), c.OwnerLink)
	if err == nil && link != "" {
		t.warnf("Open this link once, within a week, to be the owner of the notebook:")
		t.warnf("  %s%s", strings.TrimSuffix(address, "/"), link)
	}
	return err
}

// run serves an open notebook until it is stopped.
func (c serveCmd) run(t *terminal, book *store.Store, o server.Config, at *door, outside *lan) error {
	defer at.stop()
	file := &logFile{}
	if !c.ReadOnly {
		file = openLog(book.Dir())
	}
	log := t.logger(file, c.LogRequests)
	o.Invented = demo.Invented
	o.Sheets, o.App, o.Version, o.Log = report.Maker{Notebook: o.Notebook, Invented: demo.Invented}, pages(), version(), log
	o.Support = func(ctx context.Context) (string, error) { return supportOf(ctx, book, c.keptIn(book.Dir())) }
	kept := c.keepBackups(at.ctx, book, &o, log)
	if c.hangs.tooMany == nil {
		c.hangs = newHangs()
	}
	o.Hanging, o.Cores = c.hangs.tooMany, tuned()
	handler, err := server.New(o)
	if err != nil {
		return errors.Join(err, at.close(), outside.close())
	}
	defer handler.Close()
	if outside != nil {
		outside.tell(t)
	}
	t.warnf("The notebook in %s is open at %s", book.Dir(), at.address)
	t.warnf("Stop with Ctrl-C.")
	if err := book.Undone(); err != nil {
		log.Warn("what an erasing leaves is not all removed yet", "error", err)
	}
	log.Info("started", "version", version(), "accounts", c.Accounts, "database", c.Database != "", "read_only", c.ReadOnly)
	var hung error
	if c.Accounts && !c.Lan { // a person at a terminal has nobody to start it again, and loses no more than recordings
		kept.Go(func() { c.hangs.watch(at.ctx, log, func(why error) { hung = why; at.stop() }) })
	}
	err = outside.serveAll(at, handler, log)
	at.stop()
	kept.Wait()
	err = errors.Join(err, hung)
	log.Info("stopped", "error", err)
	if err := errors.Join(err, file.Close()); err != nil {
		return fmt.Errorf("the server stopped: %w", err)
	}
	return nil
}

// keepBackups makes a proved backup every day, beside the serving.
func (c serveCmd) keepBackups(ctx context.Context, book *store.Store, o *server.Config, log *slog.Logger) *sync.WaitGroup {
	var done sync.WaitGroup
	if c.BackupEvery <= 0 || c.ReadOnly {
		return &done
	}
	k := &store.Keeper{Store: book, In: c.keptIn(book.Dir()), Every: c.BackupEvery, Tell: func(s store.BackupStanding) {
		if s.Failed != nil {
			log.Error("backup failed", "error", s.Failed)
		} else {
			log.Info("backup", "seconds", s.Took.Seconds(), "lost_recordings", s.Lost)
		}
	}}
	if others, err := k.Look(); err != nil {
		log.Error("the backups cannot be listed", "error", err)
	} else if others > 0 {
		log.Warn("backups of another notebook are in the same folder; they are passed over", "count", others)
	}
	o.Backups = func() server.BackupStanding { return server.BackupStanding(k.Standing()) }
	done.Go(func() { k.Run(ctx) })
	return &done
}

// pages are the built pages, nil when this program was built without them.
func pages() fs.FS {
	if web.Built() {
		return web.Dist()
	}
	return nil
}
