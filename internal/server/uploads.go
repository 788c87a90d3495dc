package server

import (
	"context"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"

	"tautline/notebook"
)

// A recording can be sent in parts, after the IETF's draft "Resumable Uploads
// for HTTP" (draft-ietf-httpbis-resumable-upload) with its header fields: a
// connection that breaks costs what was on the wire, and no more. The upload's
// address holds the recording's own id, which its sender made; so nothing has
// to be asked for before the first byte. What is here of an upload is known to
// its sender alone.

// partsOutput tells how much of an upload is here.
type partsOutput struct {
	Offset   int64  `header:"Upload-Offset" doc:"Bytes that are here: go on from this one."`
	Complete string `header:"Upload-Complete" doc:"?1 once the whole recording is here."`
	Body     partsView
}

// partsView says the same in the body.
type partsView struct {
	Bytes int64  `json:"bytes" doc:"Bytes that are here." example:"2646044"`
	Hash  string `json:"hash,omitempty" doc:"SHA-256 of the whole recording, once it is here; goes into its record." example:"9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"`
}

func partsAnswer(bytes int64, hash string) *partsOutput {
	complete := "?0"
	if hash != "" {
		complete = "?1"
	}
	return &partsOutput{Offset: bytes, Complete: complete, Body: partsView{bytes, hash}}
}

// partInput is the next part of an upload.
type partInput struct {
	IDInput
	incoming
	Offset   int64  `header:"Upload-Offset" required:"true" minimum:"0" doc:"Bytes that are here already, 0 to begin." example:"0"`
	Complete string `header:"Upload-Complete" required:"true" enum:"?0,?1" doc:"?1 with the part that is the last." example:"?1"`
	Length   int64  `header:"Upload-Length" minimum:"0" doc:"Bytes of the whole recording: one too large is refused before it is sent." example:"2646044"`
	Digest   string `header:"Repr-Digest" maxLength:"1000" doc:"SHA-256 of the whole recording (RFC 9530), with the last part: other bytes are not kept." example:"sha-256=:n4bQgYhMfWWaL+qgxVrQFaO/TxsrC4Is0V1sFbDwCgg=:"`
}

// partBody documents a body that is a part of a recording.
func partBody(op *huma.Operation) {
	op.RequestBody = &huma.RequestBody{Required: true, Description: "The next bytes of the recording.",
		Content: map[string]*huma.MediaType{"application/partial-upload": {Schema: &huma.Schema{Type: "string", Format: "binary"}}}}
}

// uploadOf names an upload of whoever asks.
func uploadOf(ctx context.Context, id string, who func(context.Context) (notebook.Person, error)) (notebook.Upload, error) {
	me, err := who(ctx)
	if err != nil {
		return notebook.Upload{}, err
	}
	return notebook.Upload{ID: notebook.ID(id), By: me.ID}, notebook.ID(id).Check("/id")
}

// getParts tells how much is here. A request that still brings parts of the
// same upload is ended first, since its sender would not ask if it reached us.
func (s *server) getParts(ctx context.Context, in *IDInput) (*partsOutput, error) {
	u, err := uploadOf(ctx, in.ID, s.me)
	if err != nil {
		return nil, err
	}
	leave, err := s.arriving.enter(ctx, u, func() {})
	if err != nil {
		return nil, err
	}
	defer leave()
	held, err := s.Notebook.Blobs().Held(ctx, u)
	if err != nil {
		return nil, err
	}
	return partsAnswer(held.Bytes, held.Hash), nil
}

// dropParts gives an upload up.
func (s *server) dropParts(ctx context.Context, in *IDInput) (*struct{}, error) {
	u, err := uploadOf(ctx, in.ID, s.me)
	if err != nil {
		return nil, err
	}
	leave, err := s.arriving.enter(ctx, u, func() {})
	if err != nil {
		return nil, err
	}
	defer leave()
	return nil, s.drop(ctx, u)
}

// addPart takes the next part. What has come before the connection breaks stays
// for the next request.
func (s *server) addPart(ctx context.Context, in *partInput) (*partsOutput, error) {
	u, err := uploadOf(ctx, in.ID, s.actor)
	if err != nil {
		return nil, err
	}
	want, err := digestOf(in.Digest)
	if err != nil {
		return nil, err
	}
	whole := max(in.Length, in.Offset+max(in.length, 0))
	tooLarge := whole > s.Limits.RecordingBytes || whole < 0
	person := u.By
	if !tooLarge {
		if person, err = s.mayUpload(ctx, max(in.length, in.Length-in.Offset)); err != nil {
			return nil, err
		}
	}
	body := s.bodyOf(in.incoming, person, max(0, s.Limits.RecordingBytes-in.Offset))
	leave, err := s.arriving.enter(ctx, u, body.stop)
	if err != nil {
		return nil, err
	}
	defer leave()
	if tooLarge {
		return nil, errors.Join(tooLargeUpload(s.Limits.RecordingBytes), s.drop(ctx, u))
	}
	return s.append(ctx, u, in, body, want)
}

// append keeps what comes, and makes the recording's file with the last part.
func (s *server) append(ctx context.Context, u notebook.Upload, in *partInput, body *patient, want string) (*partsOutput, error) {
	size, err := s.Notebook.Blobs().Append(ctx, u, in.Offset, body, s.Limits.RecordingBytes)
	if tooLarge := (*http.MaxBytesError)(nil); errors.As(body.failed, &tooLarge) { // it did not say how large it is
		return nil, errors.Join(tooLargeUpload(s.Limits.RecordingBytes), s.drop(ctx, u))
	}
	if body.failed != nil {
		return nil, brokenPart(body.failed)
	}
	if notebook.CodeOf(err) == notebook.Different {
		return nil, elsewhere(size)
	}
	if code := notebook.CodeOf(err); code == notebook.DiskFull || code == notebook.ReadOnly { // what came was taken away again
		s.quota.giveBack(u.By, body.taken())
	}
	if err != nil || in.Complete == "?0" {
		return partsAnswer(size, ""), err
	}
	hash, whole, err := s.Notebook.Blobs().Finish(ctx, u, want)
	if notebook.CodeOf(err) == notebook.Invalid { // nothing of it was kept
		s.quota.giveBack(u.By, size)
	}
	if err != nil {
		return nil, err
	}
	return partsAnswer(whole, hash), nil
}

// drop gives an upload up, and back to its sender what it used of the day.
func (s *server) drop(ctx context.Context, u notebook.Upload) error {
	held, err := s.Notebook.Blobs().Held(ctx, u)
	if notebook.CodeOf(err) == notebook.NotFound {
		return nil
	}
	if err == nil {
		err = s.Notebook.Blobs().Drop(ctx, u)
	}
	if err == nil && held.Hash == "" {
		s.quota.giveBack(u.By, held.Bytes)
	}
	return err
}

// elsewhere is the refusal of a part that does not follow what is here.
func elsewhere(size int64) *Problem {
	p := newProblem(http.StatusConflict, codeOffset, fmt.Sprintf("The notebook holds %d bytes of this upload; the part sent begins elsewhere.", size),
		"Go on from the byte that the header Upload-Offset names.")
	p.offset = &size
	return p
}

// brokenPart says why a part did not arrive whole.
func brokenPart(err error) error {
	var known *Problem
	if errors.As(err, &known) {
		return known
	}
	return newProblem(http.StatusRequestTimeout, codeSlow, "The part did not arrive whole. What came of it was kept.", "Ask how much is here, and go on from there.")
}

// digestOf reads the SHA-256 out of a Repr-Digest field (RFC 9530); other
// digests in it are left to those who know them.
func digestOf(field string) (string, error) {
	for one := range strings.SplitSeq(field, ",") {
		value, found := strings.CutPrefix(strings.TrimSpace(one), "sha-256=")
		if !found {
			continue
		}
		raw, err := base64.StdEncoding.DecodeString(strings.Trim(value, ":"))
		if err != nil || len(raw) != 32 || len(value) < 2 || value[0] != ':' || value[len(value)-1] != ':' {
			return "", &notebook.Error{Code: notebook.Invalid, Field: "Repr-Digest", Message: "its SHA-256 cannot be read", Hint: "write 32 bytes in Base64 between colons: sha-256=:n4bQ…Cgg=:"}
		}
		return hex.EncodeToString(raw), nil
	}
	return "", nil
}

// arriving are the uploads of which something comes at this moment. There is
// one request for each: a newer one ends the one before it, whose connection is
// lost, else it would not have been sent.
type arriving struct {
	mu sync.Mutex
	at map[notebook.Upload]*arrival
}

type arrival struct {
	stop func()        // ends it soon
	gone chan struct{} // closed when it has ended
}

// enter waits until the request is the only one for the upload; stop ends it
// when the next one comes.
func (a *arriving) enter(ctx context.Context, u notebook.Upload, stop func()) (leave func(), err error) {
	mine := &arrival{stop, make(chan struct{})}
	for {
		before := a.takes(u, mine)
		if before == nil {
			return func() { a.leaves(u, mine) }, nil
		}
		select {
		case <-before.gone:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// takes puts a request in its place, or ends and gives who has it: one that has
// the place has not returned, so that its connection is still its own.
func (a *arriving) takes(u notebook.Upload, mine *arrival) *arrival {
	a.mu.Lock()
	defer a.mu.Unlock()
	if before := a.at[u]; before != nil {
		before.stop()
		return before
	}
	if a.at == nil {
		a.at = map[notebook.Upload]*arrival{}
	}
	a.at[u] = mine
	return nil
}

func (a *arriving) leaves(u notebook.Upload, mine *arrival) {
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.at, u)
	close(mine.gone)
}
