//go:build unix

package drill

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"

	"tautline/notebook"
)

// noun is a kind of record that is sent under an id of the sender's making.
type noun struct {
	path string // as the description has it
	// body is one on Ann's records; mark is text of its own.
	body func(hers map[string]string, mark string) any
	by   string // whose such records are, "" is Ann
	own  bool   // a fresh one of a stranger's touches nobody else's
}

// nouns are all kinds, each after those that it names. What Ann has made of
// one stands under its name for the next.
var nouns = []noun{
	{path: "bows/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"name": mark, "style": "recurve", "owner": hers["people"]}
	}},
	{path: "setups/{id}", body: func(hers map[string]string, mark string) any {
		whole := maps.Clone(settings)
		whole["string"] = obj{"length": "166 cm", "material": "hmpe", "strands": 18, "twists": 22}
		return obj{"bow": hers["bows"], "reason": mark, "settings": whole}
	}},
	{path: "sessions/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"bow": hers["bows"], "place": "hall", "note": mark}
	}},
	{path: "readings/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"bow": hers["bows"], "setup": hers["setups"], "session": hers["sessions"], "kind": "brace_height", "text": "221 mm", "note": mark}
	}},
	{path: "ends/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"bow": hers["bows"], "setup": hers["setups"], "distance": "70 m", "face": "122", "number": 1, "note": mark, "impacts": []obj{{"arrow": "1", "ring": "8"}}}
	}},
	{path: "recordings/{id}/sound", own: true, body: func(map[string]string, string) any { return intrudersNoise }}, // bytes that no record names yet
	{path: "recordings/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"hash": Hash(intrudersNoise), "bow": hers["bows"], "name": mark, "media": "audio/wav"}
	}},
	{path: "onsets/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"recording": hers["recordings"], "note": mark}
	}},
	{path: "trials/{id}", body: func(hers map[string]string, _ string) any {
		return obj{"setup": hers["setups"], "ask": obj{"turns_per_step": 3}}
	}},
	{path: "trials/{id}/events/{event}", body: func(_ map[string]string, mark string) any {
		return obj{"what": "reached", "stop": 0, "note": mark}
	}},
	{path: "trials/{id}/verdicts/{verdict}", body: func(map[string]string, string) any { return obj{} }},
	{path: "trials/{id}/choices/{setup}", body: func(_ map[string]string, mark string) any {
		return obj{"stop": 1, "reason": mark}
	}},
	{path: "rulings/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"target": hers["verdicts"], "counts": true, "reason": mark}
	}},
	{path: "fits/{id}", body: func(hers map[string]string, _ string) any { return obj{"bow": hers["bows"]} }},
	{path: "shares/{id}", body: func(hers map[string]string, _ string) any {
		return obj{"with": hers["coach"], "may": "work", "archer": hers["people"], "bow": hers["bows"]}
	}},
	{path: "retractions/{id}", body: func(hers map[string]string, mark string) any {
		return obj{"target": hers["ends"], "reason": mark}
	}},
	{path: "bows/{id}/about", body: func(_ map[string]string, mark string) any { return obj{"name": mark, "style": "recurve"} }},
	{path: "people/{id}/standing", by: "owner", body: func(map[string]string, string) any { return obj{"role": "coach"} }},
	{path: "invitations/{id}", by: "owner", body: func(_ map[string]string, mark string) any { return obj{"name": mark, "role": "coach"} }},
	{path: "tokens/{id}", own: true, body: func(_ map[string]string, mark string) any {
		return obj{"name": mark, "may": "read", "days": 30}
	}},
}

// intrudersNoise is the sound of a recording, which the strangers know too.
var intrudersNoise = append([]byte("RIFF\x2c\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x80\xbb\x00\x00\x00\x77\x01\x00\x02\x00\x10\x00data\x08\x00\x00\x00"), 1, 0, 2, 0, 3, 0, 4, 0)

const api = "/api/v1/"

// name is what stands before the last id: "events".
func (n noun) name() string {
	parts := strings.Split(n.path, "/")
	for i, p := range slices.Backward(parts) {
		if strings.HasPrefix(p, "{") {
			return parts[i-1]
		}
	}
	return n.path
}

// changes reports whether the address names a record that is there already.
func (n noun) changes() bool {
	return strings.HasSuffix(n.path, "}/about") || strings.HasSuffix(n.path, "}/standing")
}

// headers let nothing but the right be missing: a change says which version it
// starts from.
func (n noun) headers() []string {
	if n.changes() {
		return []string{"If-Match", "*"}
	}
	return nil
}

// at is the address with the last id in it, and Ann's trial before.
func (n noun) at(hers map[string]string, id string) string {
	all := place.FindAllString(n.path, -1)
	path := n.path
	if len(all) > 1 {
		path = strings.Replace(path, all[0], hers["trials"], 1)
	}
	return api + strings.Replace(path, all[len(all)-1], id, 1)
}

// everyKind: strangers send whole new records of every kind on Ann's, send hers
// anew under her ids, and take hers back. Nothing of it may be stored or
// changed. That the records themselves are good, Ann shows first: hers are
// taken. Which kinds there are, the description says.
func (h *house) everyKind(ctx context.Context) {
	h.everyKindIsKnown(ctx)
	hers := map[string]string{"people": h.guests["ann"].id, "coach": h.guests["coach"].id}
	if !h.annMakesAll(ctx, hers) {
		return
	}
	before, belongings := h.contents(ctx), h.belongings(ctx)
	sent := map[string]bool{} // fresh ids of strangers
	for _, who := range slices.Concat(out, strangers, readers) {
		for i, n := range nouns {
			h.kind(ctx, who, n, hers, fmt.Sprintf("%s slips in %d", someone(who), i), sent)
		}
	}
	after := h.contents(ctx)
	for key, row := range after.Rows {
		id, _, _ := strings.Cut(key, "/")
		old, there := before.Rows[key]
		switch {
		case sent[id]:
			h.r.Failf("%s: %s %s of a stranger's is stored", h.engine, row.Table, key)
		case byItself[row.Table]:
		case !there:
			h.r.Failf("%s: %s %s is there since strangers sent records", h.engine, row.Table, key)
		case string(old.Body) != string(row.Body):
			h.r.Failf("%s: %s %s was changed by what strangers sent", h.engine, row.Table, key)
		}
	}
	for key, row := range before.Rows {
		if _, there := after.Rows[key]; !there {
			h.r.Failf("%s: %s %s is gone since strangers sent records", h.engine, row.Table, key)
		}
	}
	if !maps.Equal(before.Files, after.Files) {
		h.r.Failf("%s: the sound files are others since strangers sent records", h.engine)
	}
	if now := h.belongings(ctx); now != belongings {
		h.r.Failf("%s: tokens or invitations are others since strangers sent records:\n%s\n%s", h.engine, belongings, now)
	}
}

// readers see what is Ann's, and write nothing: a coach whom she lets look, a
// viewer, and the owner of the notebook.
var readers = []string{"reader", "fan", "owner"}

// kind tries one kind of record as one of those without a right to write.
func (h *house) kind(ctx context.Context, who string, n noun, hers map[string]string, mark string, sent map[string]bool) {
	if n.by == who || who == "owner" && n.by != "" {
		return
	}
	fresh, body := string(notebook.NewID()), n.body(hers, mark)
	sent[fresh] = true
	tries := []struct {
		what, path string
		body       any
	}{
		{"a fresh " + n.name(), n.at(hers, fresh), body},
		{"other words in her " + n.name(), n.at(hers, hers[n.name()]), body},
		{"her own " + n.name() + " again", n.at(hers, hers[n.name()]), n.body(hers, hers["mark "+n.path])},
	}
	if ends := who == "owner" && n.name() == "shares"; !n.own && n.by == "" && !n.changes() && !ends { // the owner of the notebook ends any share
		back := string(notebook.NewID())
		sent[back] = true
		tries = append(tries, struct {
			what, path string
			body       any
		}{"her " + n.name() + " taken back", api + "retractions/" + back, obj{"target": hers[n.name()]}})
	}
	for _, t := range tries {
		a := h.ask(ctx, h.guests[who], "PUT", t.path, t.body, n.headers()...)
		h.r.Counted()
		inside := !slices.Contains(out, who)
		switch {
		case n.own && inside && a.status < 300:
		case n.name() == "trials" && slices.Contains(readers, who) && t.path == n.at(hers, hers["trials"]) && a.status == http.StatusOK: // the same trial again is shown, and stored no more
		case a.status < 400, a.status >= 500, !inside && a.status != http.StatusUnauthorized:
			h.r.Failf("%s: %s sends %s: %d %.300s", h.engine, someone(who), t.what, a.status, a.body)
		case !slices.Contains(readers, who) && (h.words.Match(a.body) || a.status == http.StatusConflict || a.status == http.StatusPreconditionFailed):
			h.r.Failf("%s: %s learns from %s: %d %.300s", h.engine, someone(who), t.what, a.status, a.body)
		}
	}
}

// annMakesAll makes one record of every kind, in order.
func (h *house) annMakesAll(ctx context.Context, hers map[string]string) bool {
	for i, n := range nouns {
		by, id := "ann", string(notebook.NewID())
		if n.by != "" {
			by = n.by
		}
		if n.changes() {
			id = hers[n.name()]
		}
		if n.name() == "verdicts" {
			h.annReads(ctx, hers)
		}
		mark := fmt.Sprintf("every kind %d", i)
		a := h.ask(ctx, h.guests[by], "PUT", n.at(hers, id), n.body(hers, mark), n.headers()...)
		h.r.Counted()
		if a.status != http.StatusOK && a.status != http.StatusCreated {
			h.r.Failf("%s: %s may not even make %s: %d %.300s", h.engine, by, n.path, a.status, a.body)
			return false
		}
		hers["mark "+n.path] = mark
		if !n.changes() {
			hers[n.name()] = id
		}
	}
	// as she was, for what comes after
	a := h.ask(ctx, h.guests["owner"], "PUT", api+"people/"+hers["people"]+"/standing", obj{"role": "archer"}, "If-Match", "*")
	if a.status != http.StatusOK {
		h.r.Failf("%s: Ann stays a coach: %d %s", h.engine, a.status, a.body)
	}
	return true
}

// annReads notes the first two stops of her trial.
func (h *house) annReads(ctx context.Context, hers map[string]string) {
	for stop := range 2 {
		body := obj{"bow": hers["bows"], "setup": hers["setups"], "trial": hers["trials"], "stop": stop, "kind": "brace_height", "text": fmt.Sprintf("%d mm", 215+5*stop)}
		if a := h.ask(ctx, h.guests["ann"], "PUT", api+"readings/"+string(notebook.NewID()), body); a.status != http.StatusCreated {
			h.r.Failf("%s: Ann reads stop %d: %d %s", h.engine, stop, a.status, a.body)
		}
	}
}

// belongings are Ann's tokens and the open invitations, which are no records.
func (h *house) belongings(ctx context.Context) string {
	tokens := h.ask(ctx, h.guests["ann"], "GET", api+"tokens", nil)
	links := h.ask(ctx, h.guests["owner"], "GET", api+"invitations", nil)
	return fmt.Sprintf("%s %s", tokens.body, links.body)
}

// everyKindIsKnown: whatever the description lets someone send under an id is
// among the nouns.
func (h *house) everyKindIsKnown(ctx context.Context) {
	var description struct {
		Paths map[string]map[string]json.RawMessage `json:"paths"`
	}
	if err := json.Unmarshal(h.ask(ctx, h.guests["ann"], "GET", "/openapi.json", nil).body, &description); err != nil {
		h.r.Failf("the description of the API: %v", err)
	}
	kinds := 0
	for path, methods := range description.Paths {
		if methods["put"] == nil || !strings.Contains(path, "{") {
			continue
		}
		kinds++
		if !slices.ContainsFunc(nouns, func(n noun) bool { return api+n.path == path }) {
			h.r.Failf("no stranger tries to send %s: give it a place in nouns", path)
		}
	}
	if kinds != len(nouns) {
		h.r.Failf("the description has %d kinds of records, strangers try %d", kinds, len(nouns))
	}
}
