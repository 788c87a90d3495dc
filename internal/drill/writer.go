//go:build unix

package drill

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"tautline/notebook"
)

// Writer is one client that notes what happens at the range: a seeded mix of
// every kind of record. What was not answered it sends again, unchanged.
type Writer struct {
	URL    string
	Cookie string // of a session, in a club
	Ledger *Ledger
	HTTP   *http.Client
	Sound  int // samples of an upload, about

	dice    *rand.Rand
	sounds  int // uploads made up: every second is sent in parts
	number  int
	n       int
	bow     string
	setup   string
	version int      // of the bow
	tag     string   // of that version
	done    []string // records that may be retracted
	upload  string   // a sound that has no record yet
	pending *Sent
}

var writers atomic.Int64

// NewWriter is a client of a program.
func NewWriter(p *Program, l *Ledger, dice *rand.Rand) *Writer {
	number := int(writers.Add(1))
	return &Writer{
		URL: p.URL(), Ledger: l, dice: dice, number: number, sounds: number % 2, Sound: 10_000,
		HTTP: &http.Client{Transport: &http.Transport{DisableCompression: true}, Timeout: 30 * time.Second},
	}
}

// Refused is an answer that a write should not get.
type Refused struct {
	Status int
	Body   string
}

func (e Refused) Error() string { return fmt.Sprintf("%d %s", e.Status, e.Body) }

// Write makes one write, or sends the last again if it has no answer yet. The
// error is a Refused, or that no answer came.
func (w *Writer) Write(ctx context.Context) error {
	if w.pending == nil {
		w.pending = w.next()
	}
	err := w.send(ctx, w.pending)
	if err == nil {
		w.learn(w.pending)
		w.pending = nil
	}
	return err
}

// Pending reports whether a write has no answer yet.
func (w *Writer) Pending() bool { return w.pending != nil }

// Until writes until something stands in the way.
func (w *Writer) Until(ctx context.Context) error {
	for {
		if err := w.Write(ctx); err != nil {
			w.HTTP.CloseIdleConnections()
			return err
		}
	}
}

// send sends a write once.
func (w *Writer) send(ctx context.Context, s *Sent) error {
	w.Ledger.Send(s)
	if len(s.Parts) > 0 {
		return w.sendParts(ctx, s)
	}
	r, err := http.NewRequestWithContext(ctx, s.Method, w.URL+s.Path, bytes.NewReader(s.Body))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	for i := 0; i+1 < len(s.Headers); i += 2 {
		r.Header.Set(s.Headers[i], s.Headers[i+1])
	}
	if w.Cookie != "" {
		r.Header.Set("Cookie", w.Cookie)
	}
	answer, err := w.HTTP.Do(r)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	switch {
	case err != nil:
		return err
	case answer.StatusCode == 200 || answer.StatusCode == 201:
	case answer.StatusCode == 412 && s.Tries > 1 && bytes.Contains(storedIn(text), []byte(s.Mark)):
		// the change was stored the first time; its answer never came
	default:
		return Refused{answer.StatusCode, string(text)}
	}
	if s.Tag = answer.Header.Get("ETag"); s.Tag == "" && kindOf(s.Path) == "bows" {
		return fmt.Errorf("%s %s is answered without a version", s.Method, s.Path)
	}
	w.Ledger.Ack(s)
	return nil
}

// storedIn is the stored record in a problem's answer.
func storedIn(text []byte) []byte {
	var p struct {
		Stored json.RawMessage `json:"stored"`
	}
	if json.Unmarshal(text, &p) != nil {
		return nil
	}
	return p.Stored
}

// learn remembers what later writes may name.
func (w *Writer) learn(s *Sent) {
	switch kindOf(s.Path) {
	case "bows":
		w.bow, w.version, w.tag = s.ID, s.Version, s.Tag
	case "setups":
		w.setup = s.ID
	case "readings", "ends", "sessions":
		w.done = append(w.done, s.ID)
	case "recordings":
		if w.upload = s.Hash; s.Hash == "" {
			w.done = append(w.done, s.ID)
		}
	}
}

func kindOf(path string) string { return strings.Split(path, "/")[3] }

// next makes up a write: first a bow and its set-up, then whatever comes.
func (w *Writer) next() *Sent {
	switch {
	case w.bow == "":
		return w.made("bow")
	case w.setup == "":
		return w.made("set-up")
	case w.upload != "":
		return w.made("recording")
	}
	switch k := w.dice.IntN(20); {
	case k < 9:
		return w.made("reading")
	case k < 12:
		return w.made("end")
	case k < 13:
		return w.made("session")
	case k < 14:
		return w.made("set-up")
	case k < 15:
		return w.made("change")
	case k < 17 && len(w.done) > 0:
		return w.made("retraction")
	default:
		return w.made(w.howToUpload())
	}
}

// howToUpload takes turns: whole, and in parts.
func (w *Writer) howToUpload() string {
	if w.sounds++; w.sounds%2 == 0 {
		return "upload part"
	}
	return "upload"
}

// made makes up one kind of write.
func (w *Writer) made(kind string) *Sent {
	w.n++
	switch kind {
	case "bow":
		return w.record("bows", obj{"name": w.mark(), "style": "recurve"})
	case "set-up":
		return w.record("setups", obj{"bow": w.bow, "parent": w.setup, "reason": w.mark(), "settings": settings})
	case "reading":
		return w.record("readings", obj{"bow": w.bow, "setup": w.setup, "kind": "brace_height", "text": fmt.Sprintf("%d mm", 200+w.dice.IntN(40)), "note": w.mark()})
	case "end":
		return w.record("ends", obj{"bow": w.bow, "setup": w.setup, "distance": "70 m", "face": "122", "number": w.n%1000 + 1, "note": w.mark(), "impacts": w.impacts()})
	case "session":
		return w.record("sessions", obj{"bow": w.bow, "place": "hall", "note": w.mark()})
	case "change":
		return w.about()
	case "retraction":
		return w.record("retractions", obj{"target": w.done[w.dice.IntN(len(w.done))], "reason": w.mark()})
	case "recording":
		return w.record("recordings", obj{"hash": w.upload, "bow": w.bow, "name": w.mark(), "media": "audio/wav"})
	case "upload":
		return w.sound()
	case "upload part":
		return w.inParts()
	}
	panic("drill: no such kind of write: " + kind)
}

// Next makes up a write without sending it, for a drill that sends by itself.
func (w *Writer) Next() *Sent { return w.next() }

// mark is text that no other record has.
func (w *Writer) mark() string { return fmt.Sprintf("writer %d, write %d.", w.number, w.n) }

// record makes a new record.
func (w *Writer) record(kind string, body obj) *Sent {
	id := string(notebook.NewID())
	return &Sent{Method: "PUT", Path: "/api/v1/" + kind + "/" + id, ID: id, Version: 1, Mark: w.mark(), Body: compact(body)}
}

// about changes the bow's name.
func (w *Writer) about() *Sent {
	return &Sent{
		Method: "PUT", Path: "/api/v1/bows/" + w.bow + "/about", ID: w.bow, Version: w.version + 1, Mark: w.mark(),
		Headers: []string{"If-Match", w.tag}, Body: compact(obj{"name": w.mark(), "style": "recurve"}),
	}
}

// sound uploads some seconds' tenths of noise.
func (w *Writer) sound() *Sent {
	body := Noise(w.dice, w.Sound/2+w.dice.IntN(w.Sound))
	return &Sent{
		Method: "PUT", Path: "/api/v1/recordings/" + string(notebook.NewID()) + "/sound", Hash: Hash(body), Body: body,
		Headers: []string{"Content-Type", "audio/wav"},
	}
}

func (w *Writer) impacts() (out []obj) {
	for i := range 3 {
		out = append(out, obj{"arrow": fmt.Sprint(i + 1), "x_m": w.dice.Float64()/5 - 0.1, "y_m": w.dice.Float64()/5 - 0.1})
	}
	return out
}

// Noise is a WAV file of random samples, 48 kHz, 16 bit, mono.
func Noise(dice *rand.Rand, samples int) []byte {
	le := binary.LittleEndian
	b := append(le.AppendUint32([]byte("RIFF"), uint32(36+2*samples)), "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	for _, v := range []uint16{1, 1} {
		b = le.AppendUint16(b, v)
	}
	b = le.AppendUint32(le.AppendUint32(b, 48000), 96000)
	b = le.AppendUint16(le.AppendUint16(b, 2), 16)
	b = le.AppendUint32(append(b, "data"...), uint32(2*samples))
	for range samples {
		b = le.AppendUint16(b, uint16(dice.IntN(2000)))
	}
	return b
}

type obj = map[string]any

func compact(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // our own literals
	}
	return b
}

// settings of an invented bow.
var settings = obj{
	"riser":        obj{"length": "25 in", "offset": "4 mm"},
	"limbs":        obj{"bow_length": "68 in", "marked_weight": "36 lbf", "range_low": "21 cm", "range_high": "23.5 cm"},
	"draw":         obj{"length": "28.5 in", "weight": "38 lbf"},
	"brace_height": obj{"value": "22 cm"},
	"arrow":        obj{"mass": "330 gr", "spine": "600"},
}
