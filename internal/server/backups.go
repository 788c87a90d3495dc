package server

import "time"

// BackupStanding is how the automatic backups stand.
type BackupStanding struct {
	Last   time.Time     // when the newest proved one was made; zero: there is none
	Took   time.Duration // how long it took; zero if unknown
	Failed error         // why the last try since then failed
	Lost   int           // recordings that the notebook itself has lost
}

// oldBackup is the age at which a backup is too old (bars.md T8).
const oldBackup = 3 * 24 * time.Hour

// backupView is how the automatic backups stand, for people.
type backupView struct {
	State string  `json:"state" enum:"fresh,none,old,failed" doc:"none: the first is being made. old: three days or more. failed: the last try failed."`
	Last  string  `json:"last,omitempty" doc:"When the last proved backup was made, UTC." example:"2026-05-04T03:00:12Z"`
	Hours float64 `json:"hours" doc:"Its age." example:"5.5"`
	Hint  string  `json:"hint,omitempty" doc:"What to do, when something is to be done."`
}

// backups says how they stand; nil when none are made.
func (s *server) backups() *backupView {
	if s.Backups == nil {
		return nil
	}
	now := s.Backups()
	v := &backupView{State: "fresh"}
	if !now.Last.IsZero() {
		v.Last, v.Hours = now.Last.UTC().Format(time.RFC3339), max(0, s.Now().Sub(now.Last).Hours())
	}
	switch {
	case now.Failed != nil:
		v.State, v.Hint = "failed", "The last try to make a backup failed; on the machine that runs the notebook, run: tautline doctor"
	case now.Last.IsZero():
		v.State = "none"
	case v.Hours >= oldBackup.Hours():
		v.State, v.Hint = "old", "On the machine that runs the notebook, run: tautline doctor"
	}
	if now.Lost > 0 && v.Hint == "" {
		v.Hint = "Some recordings are missing or damaged; run: tautline verify"
	}
	return v
}
