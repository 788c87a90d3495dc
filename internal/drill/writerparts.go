//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"tautline/notebook"
)

// inParts uploads some seconds' tenths of noise as the pages do: a part, and
// the rest from where that ended.
func (w *Writer) inParts() *Sent {
	s := w.sound()
	s.Method, s.Path = http.MethodPatch, "/api/v1/recordings/"+string(notebook.NewID())+"/upload"
	s.Parts = []int{1 + w.dice.IntN(len(s.Body)-1)}
	return s
}

// partAnswer says how much of an upload is here.
type partAnswer struct {
	Bytes int    `json:"bytes"`
	Hash  string `json:"hash"`
}

// sendParts sends what is not here yet. A first part that was acknowledged is
// never asked for again, unless the disk failed since.
func (w *Writer) sendParts(ctx context.Context, s *Sent) error {
	var have partAnswer
	if s.Tries > 1 {
		var refused Refused
		var err error
		if have, err = w.part(ctx, s, http.MethodGet, nil); errors.As(err, &refused) && refused.Status == http.StatusNotFound {
			have, err = partAnswer{}, nil
		}
		if err != nil {
			return err
		}
		if have.Bytes < s.Kept {
			return fmt.Errorf("%d bytes of an upload were acknowledged, and %d are here", s.Kept, have.Bytes)
		}
	}
	for _, end := range append(s.Parts[:len(s.Parts):len(s.Parts)], len(s.Body)) {
		if have.Hash != "" || end <= have.Bytes && end < len(s.Body) {
			continue
		}
		var err error
		if have, err = w.part(ctx, s, http.MethodPatch, s.Body[have.Bytes:end], "Content-Type", "application/partial-upload",
			"Upload-Offset", strconv.Itoa(have.Bytes), "Upload-Length", strconv.Itoa(len(s.Body)), "Upload-Complete", complete(end == len(s.Body)), "Repr-Digest", digest(s.Hash)); err != nil {
			return err
		}
		if s.Kept = have.Bytes; have.Bytes != end {
			return fmt.Errorf("%d bytes were sent, and %d are said to be here", end, have.Bytes)
		}
	}
	if have.Hash != s.Hash {
		return fmt.Errorf("an upload that is whole is called %q, not %s", have.Hash, s.Hash)
	}
	w.Ledger.Ack(s)
	return nil
}

func complete(yes bool) string {
	if yes {
		return "?1"
	}
	return "?0"
}

// digest writes a SHA-256 as a Repr-Digest (RFC 9530).
func digest(hash string) string {
	raw, err := hex.DecodeString(hash)
	if err != nil {
		panic(err) // our own
	}
	return "sha-256=:" + base64.StdEncoding.EncodeToString(raw) + ":"
}

// part is one request about an upload.
func (w *Writer) part(ctx context.Context, s *Sent, method string, body []byte, headers ...string) (have partAnswer, err error) {
	r, err := http.NewRequestWithContext(ctx, method, w.URL+s.Path, bytes.NewReader(body))
	if err != nil {
		return have, err
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	if w.Cookie != "" {
		r.Header.Set("Cookie", w.Cookie)
	}
	answer, err := w.HTTP.Do(r)
	if err != nil {
		return have, err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode != http.StatusOK {
		err = Refused{answer.StatusCode, string(text)}
	}
	if err == nil {
		err = json.Unmarshal(text, &have)
	}
	return have, err
}
