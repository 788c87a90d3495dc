package notebook

import (
	"context"
	"io"
)

// Outcome says what a Put did.
type Outcome string

// The outcomes.
const (
	Created Outcome = "created"
	Already Outcome = "already" // the same record was there: a resend
	Updated Outcome = "updated" // the next version of a person or a bow
)

// Query narrows a list. Empty fields do not narrow. Retracted records are left
// out unless asked for.
type Query struct {
	Bow, SetUp, Session, Trial ID
	Recording                  ID     // of onsets
	Target                     ID     // of rulings and retractions
	Kind                       Kind   // of readings
	Only                       *Scope // nil: every bow's
	Retracted                  bool
	After                      string // cursor of the page before
	Newest                     bool   // newest received first
	Correcting                 bool   // only what corrects another
	Limit                      int    // rows, default 200, at most 1000
}

// Scope narrows a list to what belongs to some bows, and to what belongs to no
// bow and was written by one person. Nouns that belong to no bow by a column
// of their own, or of their trial or recording, are not narrowed.
type Scope struct {
	Bows   []ID
	Writer ID
}

// Page is one page of a list, oldest received first unless asked otherwise. Next is the cursor of the
// following page, "" on the last; Last is the cursor behind the page's last row, for what may follow
// later, "" on an empty page.
type Page[T any] struct {
	Rows []T
	Next string
	Last string
}

// Records keeps one noun. Every call names the actor.
type Records[T Record] interface {
	// Put stores a record that has passed Check and stamps Received. The same
	// record again is Already; other content under the same id is an error
	// with code Different. For a Person or Bow the content may differ if its
	// Version is one more than the stored; else the code is Outdated. A
	// Retraction of one that took a retraction back is Invalid. Whether what
	// the record names is there (Refers) is for the caller to ask; a set-up or
	// trial that is named and missing is Invalid.
	Put(ctx context.Context, actor ID, r T) (T, Outcome, error)
	// Get gives the record, retracted or not, or an error with code NotFound.
	Get(ctx context.Context, actor ID, id ID) (T, error)
	// List gives a page.
	List(ctx context.Context, actor ID, q Query) (Page[T], error)
}

// Store keeps a notebook. It is safe for concurrent use; what Put has
// acknowledged survives a crash and a power cut.
type Store interface {
	People() Records[Person]
	Bows() Records[Bow]
	SetUps() Records[SetUp]
	Sessions() Records[Session]
	Recordings() Records[Recording]
	Readings() Records[Reading]
	Trials() Records[Trial]
	Events() Records[TrialEvent]
	Verdicts() Records[Verdict]
	Ends() Records[End]
	Onsets() Records[Onsets]
	Fits() Records[Fit]
	Forecasts() Records[Forecast]
	Rulings() Records[Ruling]
	Shares() Records[Share]
	Retractions() Records[Retraction]

	// Blobs keeps the recordings' bytes.
	Blobs() Blobs
	// Writable is nil, or why nothing is written any more (code ReadOnly).
	Writable() error
}

// Blobs keeps files by their content's SHA-256. Bytes are never altered.
type Blobs interface {
	// Add streams a file in, at most limit bytes (code TooLarge beyond, with
	// nothing kept), and gives its hash and size.
	Add(ctx context.Context, r io.Reader, limit int64) (hash string, size int64, err error)
	// Open gives the file, or an error with code NotFound.
	Open(ctx context.Context, hash string) (io.ReadSeekCloser, error)

	// Held tells how much of an upload in parts is here, or NotFound for one
	// that was not begun, or of which nothing came for a day.
	Held(ctx context.Context, u Upload) (Held, error)
	// Append adds what comes at the end of an upload and begins one at 0; at is
	// how many bytes are here already, else the code is Different. What came
	// before r failed stays. Beyond limit bytes in all the code is TooLarge and
	// nothing is kept. It gives how many bytes are here now.
	Append(ctx context.Context, u Upload, at int64, r io.Reader, limit int64) (size int64, err error)
	// Finish makes the file of an upload that is all here. If the file is to
	// have a certain hash and has another, nothing is kept and the code is
	// Invalid. Once finished it may be finished again.
	Finish(ctx context.Context, u Upload, want string) (hash string, size int64, err error)
	// Drop gives an upload up, or does nothing.
	Drop(ctx context.Context, u Upload) error
}

// Upload is a file that comes in parts, whose id its sender made. It is the
// sender's alone: under the same id another person has another one.
type Upload struct{ ID, By ID }

// Held is how much of an upload is here.
type Held struct {
	Bytes int64
	Hash  string // of the whole file; "" while it is not finished
}
