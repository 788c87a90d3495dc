package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"tautline/notebook"
)

// uploads documents a body of a recording's own bytes.
func uploads(op *huma.Operation) {
	op.RequestBody = &huma.RequestBody{Required: true, Description: "The recording's own bytes, as the phone made them.",
		Content: map[string]*huma.MediaType{"application/octet-stream": {Schema: &huma.Schema{Type: "string", Format: "binary"}}}}
}

// downloads documents an answer of a recording's own bytes.
func downloads(op *huma.Operation) {
	bytes := map[string]*huma.MediaType{"application/octet-stream": {Schema: &huma.Schema{Type: "string", Format: "binary"}}}
	op.Responses = map[string]*huma.Response{
		"200": {Description: "The whole recording", Content: bytes},
		"206": {Description: "The part asked for by Range", Content: bytes},
	}
}

// soundInput is an upload.
type soundInput struct {
	IDInput
	incoming
}

// incoming is a body that the handler reads as it arrives.
type incoming struct {
	w      http.ResponseWriter
	body   io.ReadCloser
	length int64 // said beforehand; −1 if not
}

// Resolve takes hold of the body and the connection.
func (in *incoming) Resolve(ctx huma.Context) []error {
	r, w := humago.Unwrap(ctx)
	in.w, in.body, in.length = w, r.Body, r.ContentLength
	return nil
}

// soundView says what arrived.
type soundView struct {
	Hash  string `json:"hash" doc:"SHA-256 of the bytes; goes into the recording's record." example:"9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"`
	Bytes int64  `json:"bytes" example:"2646044"`
}

// putSound streams a recording to the notebook's files. Nothing of an upload
// that breaks off or is too large is kept; the bytes come before the record
// that names them, so that no record lacks its file.
func (s *server) putSound(ctx context.Context, in *soundInput) (*found[soundView], error) {
	if err := notebook.ID(in.ID).Check("/id"); err != nil {
		return nil, err
	}
	limit := s.Limits.RecordingBytes
	person, err := s.mayUpload(ctx, min(in.length, limit))
	if err != nil {
		return nil, err
	}
	body := s.bodyOf(in.incoming, person, limit)
	hash, size, err := s.Notebook.Blobs().Add(ctx, body, limit)
	if body.failed != nil {
		err = brokenUpload(body.failed, limit)
	}
	if err != nil {
		s.quota.giveBack(person, body.taken())
		return nil, err
	}
	return &found[soundView]{Body: soundView{hash, size}}, nil
}

// bodyOf is an upload's body with its limits: of bytes, of what the person may
// send today, and of time.
func (s *server) bodyOf(in incoming, person notebook.ID, limit int64) *patient {
	total := s.Now().Add(s.Limits.UploadTotal)
	setWriteDeadline(in.w, total.Add(writeTime))
	body := &patient{in: http.MaxBytesReader(in.w, in.body, limit), w: in.w, idle: s.Limits.UploadIdle, until: total, now: s.Now}
	if s.club != nil {
		body.in = &rationed{in: body.in, s: s, person: person}
	}
	return body
}

// brokenUpload says why the body did not arrive.
func brokenUpload(err error, limit int64) error {
	var tooLarge *http.MaxBytesError
	var known *Problem
	if errors.As(err, &known) {
		return known
	}
	if errors.As(err, &tooLarge) {
		return tooLargeUpload(limit)
	}
	return newProblem(http.StatusRequestTimeout, codeSlow, "The recording did not arrive whole. Nothing of it was kept.", "Send it again; a resend does no harm.")
}

func tooLargeUpload(limit int64) *Problem {
	return newProblem(http.StatusRequestEntityTooLarge, codeTooLarge,
		fmt.Sprintf("A recording may have %d MB; this one has more. Nothing of it was kept.", limit/1_000_000),
		"Record in mono, or one file a stop.")
}

// patient reads a body that may take long but must keep coming: each read
// moves the deadline, up to an end that stands.
type patient struct {
	in     io.Reader
	w      http.ResponseWriter
	idle   time.Duration
	until  time.Time
	now    func() time.Time
	failed error
	ended  atomic.Bool
}

// errEnded ends a body of which another request goes on.
var errEnded = errors.New("server: another request goes on with this upload")

// stop ends the body soon, from another request.
func (p *patient) stop() {
	p.ended.Store(true)
	setReadDeadline(p.w, p.now())
}

// taken is how much of it was counted for a person.
func (p *patient) taken() int64 {
	if r, ok := p.in.(*rationed); ok {
		return r.taken
	}
	return 0
}

// Read reads what has come, and remembers why it failed.
func (p *patient) Read(b []byte) (int, error) {
	deadline := p.now().Add(p.idle)
	if deadline.After(p.until) {
		deadline = p.until
	}
	setReadDeadline(p.w, deadline)
	if p.ended.Load() { // asked after the deadline is set: stop sets it last, or is seen here
		p.failed = errEnded
		return 0, errEnded
	}
	n, err := p.in.Read(b)
	if err != nil && err != io.EOF {
		p.failed = err
	}
	return n, err
}

// putRecordingBody says what an uploaded recording is of.
type putRecordingBody struct {
	Hash    string          `json:"hash" doc:"From the upload's answer."`
	Media   string          `json:"media,omitempty" doc:"The file's kind as the phone calls it; the content decides." example:"audio/wav"`
	Name    string          `json:"name,omitempty" doc:"The file's name where it came from." example:"range-tuesday.wav"`
	Bow     notebook.ID     `json:"bow,omitempty"`
	Trial   notebook.ID     `json:"trial,omitempty"`
	SetUp   notebook.ID     `json:"setup,omitempty" doc:"The set-up in force when it was made."`
	Stop    *int            `json:"stop,omitempty" doc:"Position in the trial's plan, from 0; absent when it spans the whole trial."`
	Phone   string          `json:"phone,omitempty" example:"my phone"`
	Where   string          `json:"where,omitempty" doc:"Where the phone lay." example:"on the quiver, 1 m to the left"`
	Place   string          `json:"place,omitempty" doc:"Hall, field, lane: levels compare only in one place." example:"club hall, lane 3"`
	Treated bool            `json:"auto_gain,omitempty" doc:"Automatic gain, noise suppression or echo cancelling was on: levels mean nothing then."`
	ToBale  notebook.Length `json:"distance_to_bale,omitzero" doc:"Archer to bale." example:"5 m"`
	Started string          `json:"started_at_stop,omitempty"`
	Taps    []notebook.Tap  `json:"taps,omitempty" doc:"At which second of the recording which stop began."`
	At      time.Time       `json:"at,omitzero" doc:"When it was made, by the writer's clock; default the id's time."`
}

// putRecordingInput is a recording's record.
type putRecordingInput struct {
	IDInput
	Body written[putRecordingBody]
}

func (s *server) putRecording(ctx context.Context, in *putRecordingInput) (*kept[notebook.Recording], error) {
	me, err := s.actor(ctx)
	if err != nil {
		return nil, err
	}
	b, err := in.Body.read(systemOf(me))
	if err != nil {
		return nil, err
	}
	stamp, err := made(in.ID, me.ID, b.At)
	if err != nil {
		return nil, err
	}
	record := notebook.Recording{
		Stamp: stamp, Hash: b.Hash, Media: b.Media, Name: b.Name, Bow: b.Bow, Trial: b.Trial, SetUp: b.SetUp, Stop: b.Stop,
		Phone: b.Phone, Where: b.Where, Place: b.Place, Treated: b.Treated, ToBale: b.ToBale, Started: b.Started, Taps: b.Taps,
	}
	if err := s.checkRecording(ctx, &record); err != nil {
		return nil, err
	}
	stored, status, err := keep(ctx, s.Notebook.Recordings(), me.ID, record)
	if err != nil {
		return nil, err
	}
	if status == http.StatusCreated {
		go s.listenAhead(stored)
	}
	return &kept[notebook.Recording]{Status: status, Body: stored}, nil
}

// checkRecording demands the file and what the record refers to, and fills in
// the file's size.
func (s *server) checkRecording(ctx context.Context, r *notebook.Recording) error {
	size, err := s.sizeOf(ctx, r.Hash)
	if notebook.CodeOf(err) == notebook.NotFound {
		return &notebook.Error{Code: notebook.Invalid, Field: "/hash", Message: "no recording with this hash was uploaded", Hint: "upload its bytes first; the answer gives the hash"}
	}
	if err != nil {
		return err
	}
	r.Bytes = size
	if err := r.Check().OrNil(); err != nil {
		return err
	}
	if r.Bow != "" {
		_, err = refers(ctx, s, s.Notebook.Bows(), "/bow", r.Bow)
	}
	return err // a recording may arrive before its trial does
}

func (s *server) sizeOf(ctx context.Context, hash string) (int64, error) {
	file, err := s.Notebook.Blobs().Open(ctx, hash)
	if err != nil {
		return 0, err
	}
	size, err := file.Seek(0, io.SeekEnd)
	return size, errors.Join(err, file.Close())
}

func (s *server) getRecording(ctx context.Context, in *IDInput) (*found[notebook.Recording], error) {
	r, err := fetch(ctx, s, s.Notebook.Recordings(), in.ID)
	return &found[notebook.Recording]{Body: r}, err
}

func (s *server) listRecordings(ctx context.Context, in *listInput) (*found[rows[notebook.Recording]], error) {
	return list(ctx, s, s.Notebook.Recordings(), *in, func(r notebook.Recording) notebook.Recording { return r })
}

// fileOutput answers with a file on the connection itself.
type fileOutput struct {
	Body func(huma.Context)
}

// downloadTime is how long a recording may take to leave.
const downloadTime = 45 * time.Minute

// getSound plays a recording back. Bytes that strangers made are sent as an
// attachment in a sandbox, so that no browser takes them for a page of ours.
func (s *server) getSound(ctx context.Context, in *IDInput) (*fileOutput, error) {
	record, err := fetch(ctx, s, s.Notebook.Recordings(), in.ID)
	if err != nil {
		return nil, err
	}
	file, err := s.Notebook.Blobs().Open(ctx, record.Hash)
	if err != nil {
		return nil, err
	}
	return &fileOutput{func(c huma.Context) { s.sendSound(c, record, file) }}, nil
}

func (s *server) sendSound(c huma.Context, record notebook.Recording, file io.ReadSeekCloser) {
	defer func() {
		if err := file.Close(); err != nil {
			s.Log.Error("closing a recording", "error", err)
		}
	}()
	r, w := humago.Unwrap(c)
	setWriteDeadline(w, s.Now().Add(downloadTime))
	h := w.Header()
	h.Set("Content-Type", soundKind(record.Media))
	h.Set("Content-Disposition", `attachment; filename="recording"`)
	h.Set("Content-Security-Policy", "sandbox; default-src 'none'")
	h.Set("ETag", `"`+record.Hash+`"`)
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	w = streamed(w)
	http.ServeContent(&ranged{ResponseWriter: w, r: r}, r, "", record.At, file)
}

// ranged lets a file's answer pass and turns its one refusal, a range outside
// the file, into a problem.
type ranged struct {
	http.ResponseWriter
	r       *http.Request
	refused bool
}

// WriteHeader watches for the refusal.
func (w *ranged) WriteHeader(status int) {
	if status != http.StatusRequestedRangeNotSatisfiable {
		w.ResponseWriter.WriteHeader(status)
		return
	}
	w.refused = true
	for _, name := range []string{"Content-Length", "Content-Disposition", "ETag"} {
		w.Header().Del(name)
	}
	writeProblem(w.ResponseWriter, w.r, newProblem(status, codeRange, "The part asked for does not lie inside the recording.", "Ask for bytes within its length."))
}

// Write drops the library's own words after a refusal.
func (w *ranged) Write(b []byte) (int, error) {
	if w.refused {
		return len(b), nil
	}
	return w.ResponseWriter.Write(b)
}

// Unwrap lets deadlines reach the connection.
func (w *ranged) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// soundKind passes on a plain media type of sound, and calls all else bytes.
func soundKind(media string) string {
	kind, _, err := mime.ParseMediaType(media)
	switch {
	case err != nil:
		return "application/octet-stream"
	case kind == "audio/wav", kind == "audio/x-wav", kind == "audio/wave", kind == "audio/ogg", kind == "audio/flac",
		kind == "audio/mpeg", kind == "audio/mp4", kind == "audio/webm", kind == "audio/aac", kind == "video/webm":
		return kind
	}
	return "application/octet-stream"
}
