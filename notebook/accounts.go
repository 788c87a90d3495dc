package notebook

import (
	"context"
	"io"
	"time"
)

// Account lets a person log in. Accounts, credentials and the log of who did
// what belong to the server and are in no export of the notebook.
type Account struct {
	Person ID        `json:"person"`
	Login  string    `json:"login"` // folded to lower case, unique
	Hash   string    `json:"hash"`  // of the password, in the PHC string format
	Made   time.Time `json:"made"`  // UTC
	Since  time.Time `json:"since"` // sessions begun before are ended
	Tries
	Factor Factor `json:"factor,omitzero"`
}

// Tries are the wrong ones since the last time the person came in, by who made
// them: they are bounded one by one, so that strangers close an account to
// strangers only.
type Tries struct {
	Strangers int `json:"failed"`          // passwords, from devices never let in
	Known     int `json:"known,omitempty"` // passwords, from devices that were let in before
	Codes     int `json:"codes,omitempty"` // of the second factor, after a right password
}

// Factor is a second factor beside the password, empty for none. The secret is
// kept as it is, since codes are computed from it.
type Factor struct {
	Secret  string   `json:"secret,omitempty"`  // base32, shared with an authenticator app
	Next    string   `json:"next,omitempty"`    // made, and not yet shown to be in an app
	Step    int64    `json:"step,omitempty"`    // of the last code used (RFC 6238)
	Printed []string `json:"printed,omitempty"` // SHA-256 of codes that stand in for the app, each once
	Short   bool     `json:"short,omitempty"`   // the password is too short to stand alone
}

// CredentialKind is what a secret opens.
type CredentialKind string

// The kinds of credential.
const (
	SessionCredential    CredentialKind = "session"
	TokenCredential      CredentialKind = "token"      // of a program, for the API
	InvitationCredential CredentialKind = "invitation" // a link, used once
	RecoveryCredential   CredentialKind = "recovery"   // a printed code, used once
	UsedCredential       CredentialKind = "used"       // a link or code that was used a moment ago, beside the password
)

// Credential is a secret that was given out. Only its hash is kept.
type Credential struct {
	ID      ID             `json:"id"`
	Kind    CredentialKind `json:"kind"`
	Hash    string         `json:"hash"`             // SHA-256 in hex
	Person  ID             `json:"person,omitempty"` // whose; of an invitation: who comes back by it, empty for someone new
	By      ID             `json:"by,omitempty"`     // who gave it
	Name    string         `json:"name,omitempty"`   // in words, for lists
	Role    Role           `json:"role,omitempty"`   // of who is invited
	May     Grant          `json:"may,omitempty"`    // of a token: read, or work
	Made    time.Time      `json:"made"`             // UTC
	Expires time.Time      `json:"expires"`          // UTC
	Data    []byte         `json:"data,omitempty"`   // of a session, or of what was used
}

// AuditEntry is one line of the log of who did what. It holds ids, never
// names, secrets or what was written.
type AuditEntry struct {
	Seq    int64     `json:"seq"`
	At     time.Time `json:"at"`     // UTC
	Actor  ID        `json:"actor"`  // empty: nobody that is known
	What   string    `json:"what"`   // such as "login" or the operation's id
	Target string    `json:"target"` // a record's id
	From   string    `json:"from"`   // network address
	Status int       `json:"status"` // the answer's HTTP status
}

// Admission lets a person in: all of it happens or nothing.
type Admission struct {
	Person     Person // made, or its next version
	Account    Account
	Invitation ID          // used up
	Used       *Credential // stands in its place, so that a lost answer can be asked for again, or nil
	Recovery   *Credential // a new recovery code in place of any old one, or nil
}

// Readmission lets a person in once more whose answer was lost.
type Readmission struct {
	Account  Account    // as it was read: its password and sessions must be the same still
	Was, Now Credential // of kind used: as it was read, and in its place
	Recovery Credential // in place of any old one
}

// Accounts keeps who may log in. It is safe for concurrent use.
type Accounts interface {
	Leavers
	// AccountFor finds an account by its login, AccountOf by its person; an
	// error with code NotFound when there is none.
	AccountFor(ctx context.Context, login string) (Account, error)
	AccountOf(ctx context.Context, person ID) (Account, error)
	// Accounts counts them.
	CountAccounts(ctx context.Context) (int, error)
	// SaveAccount replaces a person's account.
	SaveAccount(ctx context.Context, a Account) error
	// ChangeAccount changes a person's account as it stands, one change at a
	// time, and gives it; nothing is stored where change says false.
	ChangeAccount(ctx context.Context, person ID, change func(*Account) bool) (Account, error)
	// Admit lets a person in. A login that is taken is an error with code
	// Different at /login, an invitation that is gone one with code NotFound.
	Admit(ctx context.Context, a Admission) error

	// AdmitAgain lets a person in once more, see Readmission: an error with code
	// NotFound when anything is no longer as it was read.
	AdmitAgain(ctx context.Context, r Readmission) error

	// SaveCredential adds one, or replaces the one with its hash; an invitation
	// or token also the one with its id, a recovery code the person's last one.
	// An error with code NotFound when the id is that of another's link or token.
	SaveCredential(ctx context.Context, c Credential) error
	// CredentialBy finds one that has not expired by the hash of its secret.
	CredentialBy(ctx context.Context, kind CredentialKind, hash string, now time.Time) (Credential, error)
	// Credentials lists those of a person, or of all for an empty one, that
	// have not expired.
	Credentials(ctx context.Context, kind CredentialKind, person ID, now time.Time) ([]Credential, error)
	// DropCredential forgets one by its hash, DropCredentials all of a person's.
	DropCredential(ctx context.Context, hash string) error
	DropCredentials(ctx context.Context, kind CredentialKind, person ID) error

	// Note adds to the log; Log reads it backwards from before (0: the end).
	Note(ctx context.Context, e ...AuditEntry) error
	Log(ctx context.Context, before int64, limit int) ([]AuditEntry, error)
}

// Leavers lets people take along what is theirs, and be forgotten.
type Leavers interface {
	// Belongings counts what is a person's, by noun: their bows with all that
	// was written on them, what they wrote of no bow, their shares.
	Belongings(ctx context.Context, person ID) (map[Noun]int, error)
	// ExportPerson writes it as an export that any notebook reads in. Others who
	// wrote some of it are in it by number, not by name.
	ExportPerson(ctx context.Context, person ID, w io.Writer) error
	// Erase removes it with account, login and name. What the person wrote on
	// others' bows stays, by a former member.
	Erase(ctx context.Context, person ID) (Erasure, error)
}

// Erasure says what was taken out of a notebook with a person.
type Erasure struct {
	Removed  map[Noun]int `json:"removed"`
	Reworded int          `json:"reworded"` // records of others in whose texts the name stood
	Copies   int          `json:"copies"`   // copies from before updates that went along
	Until    time.Time    `json:"until"`    // when the backups from before will have been removed by themselves
}
