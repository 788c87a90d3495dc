// Package drill proves that the program keeps what it acknowledged and keeps
// strangers out: it starts the real binary, talks to it over HTTP, does to it
// what a bad day does, and looks at what is left. docs/drills.md says for an
// owner what each drill proves; make drills runs them at full length, go test
// a short seeded version of each.
//
// # To add a drill
//
// One file a drill, named after what it does. It declares a [Drill] and a
// function that is given a [Run]; the file's name goes into [All]:
//
//	var fullDisk = Drill{Name: "D4", Title: "full disk", Short: 1, Long: 20, Run: runFullDisk}
//
//	func runFullDisk(ctx context.Context, r *Run) error {
//		p := r.Program(r.Folder())
//		if err := p.Start(ctx); err != nil {
//			return err // the drill could not run: one failure
//		}
//		defer p.Kill()
//		ledger := NewLedger()
//		w := NewWriter(p, ledger, r.Random())
//		for range r.N { // r.N is Short in go test, Long×SCALE in make drills
//			r.Counted()
//			if err := w.Write(ctx); err != nil {
//				r.Failf("recording stopped: %v", err) // found something: one failure, go on
//			}
//		}
//		p.Kill()
//		c, err := ReadFolder(ctx, p.Data)
//		if err != nil {
//			return err
//		}
//		r.Fail("afterwards", ledger.Check(c))
//		return nil
//	}
//
// The kit: [Program] starts, kills and stops the binary, with or without
// accounts, under strace or not; [Ledger] knows what was sent, and what was
// acknowledged; [Writer] sends a seeded mix of every kind of record, and what
// was not answered again; [ReadFolder] and [ReadLive] read what a
// notebook's folder holds, without the program's own code; [Run.Postgres] gives an address of an empty
// PostgreSQL database. All chance comes from [Run.Random], so that a seed
// repeats a run as far as the machine's timing allows.
//
// A drill must be able to fail: give it a control that must be caught, as the
// power cut has in synchronous=NORMAL.
package drill
