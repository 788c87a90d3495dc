package cli

import (
	"context"
	"log/slog"
	"time"

	"tautline/notebook"
	"tautline/sound"
)

// hangs watches for decoders of sound files that hang: they cannot be killed,
// only left behind with the program.
type hangs struct {
	tooMany func() bool   // sound.TooManyStuck
	every   time.Duration // how often it looks
	after   time.Duration // for how long there must be too many: one that is only slow comes back
}

func newHangs() hangs { return hangs{sound.TooManyStuck, time.Second, 10 * time.Second} }

// errHanging ends a served club with exit code 1, so that whatever started it
// starts it again.
var errHanging = &notebook.Error{
	Code:    notebook.Unavailable,
	Message: "several sound files got their decoders stuck, and only a new start gets rid of them",
	Hint:    "start it again (systemd does): nothing that was acknowledged is lost",
}

// watch calls stop once too many have hung for long enough.
func (h hangs) watch(ctx context.Context, log *slog.Logger, stop func(error)) {
	tick := time.NewTicker(h.every)
	defer tick.Stop()
	since := time.Time{}
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-tick.C:
			switch {
			case !h.tooMany():
				since = time.Time{}
			case since.IsZero():
				since = now
				log.Error("sound files hang in their decoders", "restart_in_seconds", h.after.Seconds())
			case now.Sub(since) >= h.after:
				stop(errHanging)
				return
			}
		}
	}
}
