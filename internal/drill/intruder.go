//go:build unix

package drill

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tautline/notebook"
)

// Everyone who should not get in tries (T14–T17): every address of the API
// with another's ids, as nobody, another archer, another club's coach, a
// viewer of someone else and someone put out; with sessions that are expired,
// revoked, copied and tampered with; under forged names and from forged
// addresses; by guessing. Then the log of who did what is read: the refusals
// are there, and no secret is. On a file and on PostgreSQL.
//
// A control shows that the drill can see: what it asks is asked as the owner
// of the records too, and must be answered.
var intruder = Drill{Name: "D9", Title: "intruder", Short: 30, Long: 10_000, Run: runIntruder}

// guest is someone at the door.
type guest struct {
	name, id, cookie, password string
}

// house is a running club.
type house struct {
	r       *Run
	p       *Program
	engine  string
	address string // of the PostgreSQL database
	http    *http.Client
	guests  map[string]*guest
	secrets []string       // that the log must not hold
	refused map[int]int    // answers by status; of 404 those whose address names a record
	asked   int            // 404s to an address that names a record only after the ?
	ids     []string       // of Ann's records
	words   *regexp.Regexp // that only Ann's records hold
	from    int            // next forged address
}

func newHouse(r *Run, engine string) *house {
	return &house{r: r, engine: engine, guests: map[string]*guest{}, refused: map[int]int{}, http: &http.Client{Timeout: startTime}}
}

const goodPassword = "quilt harbour sixteen lanterns"

func runIntruder(ctx context.Context, r *Run) error {
	for _, engine := range []string{"file", "PostgreSQL"} {
		h := newHouse(r, engine)
		if err := h.open(ctx); err != nil {
			return err
		}
		if err := h.tries(ctx); err != nil {
			return fmt.Errorf("%s: %w", engine, err)
		}
		h.p.Kill()
	}
	return nil
}

func (h *house) tries(ctx context.Context) error {
	if err := h.settle(ctx); err != nil {
		return err
	}
	h.everyAddress(ctx)
	h.swappedIDs(ctx)
	h.everyKind(ctx)
	if err := h.sessions(ctx); err != nil {
		return err
	}
	h.forged(ctx)
	h.guesses(ctx)
	h.log(ctx)
	return nil
}

// open starts the club behind a proxy that says where requests come from, so
// that every guest can have an address of their own.
func (h *house) open(ctx context.Context) (err error) {
	args := []string{"--accounts", "--proxied"}
	if h.engine == "PostgreSQL" {
		if h.address, err = h.r.Postgres(ctx); err != nil {
			return err
		}
		args = append(args, "--database", h.address)
	}
	h.p = h.r.Program(h.r.Folder(), args...)
	return h.p.Start(ctx)
}

// said is an answer.
type said struct {
	status int
	head   http.Header
	body   []byte
}

// ask sends a request as a guest; each request of nobody's comes from another
// address. Too fast is asked again.
func (h *house) ask(ctx context.Context, as *guest, method, path string, body any, headers ...string) said {
	for {
		a := h.once(ctx, as, method, path, body, headers...)
		wait, err := strconv.Atoi(a.head.Get("Retry-After"))
		if a.status != http.StatusTooManyRequests || err != nil || as == nil || as.cookie == "" {
			return a
		}
		time.Sleep(time.Duration(wait) * time.Second)
	}
}

func (h *house) once(ctx context.Context, as *guest, method, path string, body any, headers ...string) said {
	raw, kind := []byte(nil), "application/json"
	switch b := body.(type) {
	case nil:
	case []byte:
		raw, kind = b, "audio/wav"
	default:
		raw = compact(b)
	}
	r, err := http.NewRequestWithContext(ctx, method, h.p.URL()+path, bytes.NewReader(raw))
	if err != nil {
		h.r.Failf("%s %s: %v", method, path, err)
		return said{head: http.Header{}}
	}
	h.from++
	r.Header.Set("X-Forwarded-For", fmt.Sprintf("10.%d.%d.%d", h.from>>16&255, h.from>>8&255, h.from&255))
	r.Header.Set("Content-Type", kind)
	if as != nil && as.cookie != "" {
		r.Header.Set("Cookie", as.cookie)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		if headers[i] == "Host" {
			r.Host = headers[i+1]
		}
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := h.http.Do(r)
	if err != nil {
		h.r.Failf("%s %s: %v", method, path, err)
		return said{head: http.Header{}}
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode >= 500 && answer.StatusCode != http.StatusNotImplemented {
		h.r.Failf("%s, %s %s: %d %.300s %v", h.engine, method, path, answer.StatusCode, text, err)
	}
	switch {
	case answer.StatusCode != http.StatusNotFound || namesRecord.MatchString(r.URL.Path):
		h.refused[answer.StatusCode]++
	case namesRecord.MatchString(r.URL.RawQuery):
		h.asked++
	}
	return said{answer.StatusCode, answer.Header, text}
}

// as gives a field of an answer's JSON.
func (a said) field(name string) string {
	var v map[string]any
	if json.Unmarshal(a.body, &v) != nil {
		return ""
	}
	if inner, ok := v["account"].(map[string]any); ok && v[name] == nil {
		v = inner
	}
	text, _ := v[name].(string)
	return text
}

// joins lets someone in by a link.
func (h *house) joins(ctx context.Context, name, link string) error {
	_, secret, _ := strings.Cut(link, "#")
	a := h.ask(ctx, nil, "POST", "/api/v1/join", obj{"secret": secret, "name": name, "login": name, "password": goodPassword})
	if a.status != http.StatusOK {
		return fmt.Errorf("%s cannot join: %d %s", name, a.status, a.body)
	}
	h.guests[name] = &guest{name: name, id: a.field("person"), password: goodPassword}
	h.secrets = append(h.secrets, secret, a.field("recovery_code"))
	return h.keepCookie(name, a)
}

func (h *house) keepCookie(name string, a said) error {
	for _, k := range (&http.Response{Header: a.head}).Cookies() {
		h.secrets = append(h.secrets, k.Value)
		if k.Name == "__Host-tautline" {
			h.guests[name].cookie = k.Name + "=" + k.Value
			return nil
		}
	}
	return fmt.Errorf("%s has no session", name)
}

// logsIn begins another session of a guest.
func (h *house) logsIn(ctx context.Context, name string) error {
	a := h.ask(ctx, nil, "POST", "/api/v1/login", obj{"login": name, "password": h.guests[name].password})
	if a.status != http.StatusOK {
		return fmt.Errorf("%s cannot log in: %d %s", name, a.status, a.body)
	}
	return h.keepCookie(name, a)
}

var ownersLink = regexp.MustCompile(`/join#\S+`)

// settle lets everyone in, and Ann write down what nobody else may see.
func (h *house) settle(ctx context.Context) error {
	if err := h.joins(ctx, "owner", ownersLink.FindString(h.p.Said())); err != nil {
		return err
	}
	for _, who := range []struct{ name, role string }{
		{"ann", "archer"}, {"ben", "archer"}, {"coach", "coach"}, {"stranger-coach", "coach"}, {"viewer", "viewer"}, {"emil", "archer"},
		{"reader", "coach"}, {"fan", "viewer"},
	} {
		a := h.ask(ctx, h.guests["owner"], "PUT", "/api/v1/invitations/"+string(notebook.NewID()), obj{"name": who.name, "role": who.role})
		if err := h.joins(ctx, who.name, a.field("path")); err != nil {
			return err
		}
	}
	w := NewWriter(h.p, NewLedger(), h.r.Random())
	w.Cookie, w.Sound = h.guests["ann"].cookie, 1000
	w.HTTP.Transport = forwarded{h, w.HTTP.Transport}
	for _, kind := range []string{"bow", "set-up", "session", "reading", "end", "upload", "recording", "change", "retraction"} {
		w.pending = w.made(kind)
		if err := w.Write(ctx); err != nil {
			return err
		}
	}
	for _, s := range w.Ledger.Acked() {
		if s.Hash == "" {
			h.ids = append(h.ids, s.ID)
		}
	}
	h.secrets = append(h.secrets, "writer ") // what Ann wrote
	slices.Sort(h.ids)
	h.ids = slices.Compact(h.ids)
	h.words = regexp.MustCompile(fmt.Sprintf(`writer %d, write \d+|every kind \d+`, w.number))
	for _, share := range []struct{ whose, with, may string }{{"ann", "coach", "work"}, {"ben", "stranger-coach", "work"}, {"ben", "viewer", "read"}, {"ann", "reader", "read"}, {"ann", "fan", "work"}} {
		a := h.ask(ctx, h.guests[share.whose], "PUT", "/api/v1/shares/"+string(notebook.NewID()), obj{"with": h.guests[share.with].id, "may": share.may})
		if a.status != http.StatusCreated {
			return fmt.Errorf("no share: %d %s", a.status, a.body)
		}
	}
	a := h.ask(ctx, h.guests["owner"], "PUT", "/api/v1/people/"+h.guests["emil"].id+"/standing", obj{"role": "archer", "disabled": true}, "If-Match", "*")
	if a.status != http.StatusOK {
		return fmt.Errorf("emil stays: %d %s", a.status, a.body)
	}
	return nil
}

// forwarded says of each request that it comes from another address.
type forwarded struct {
	h    *house
	next http.RoundTripper
}

// RoundTrip sends it on.
func (f forwarded) RoundTrip(r *http.Request) (*http.Response, error) {
	r.Header.Set("X-Forwarded-For", "10.255.255.1")
	return f.next.RoundTrip(r)
}

// strangers have no right to anything of Ann's; out are not let in at all.
var (
	strangers = []string{"ben", "stranger-coach", "viewer"}
	out       = []string{"", "emil"}
)

// openAddresses answer whoever asks.
var openAddresses = regexp.MustCompile(`^(GET /api/v1/(health|ready|account)|POST /api/v1/(login|join|join/look|recover))$`)

// everyAddress asks every operation of the description with each of Ann's ids
// in its place. Without a right, nothing of Ann's may come back; whoever is
// out gets nothing but what is open. Ann's coach, who has the right, shows
// that the ids are real.
func (h *house) everyAddress(ctx context.Context) {
	var description struct {
		Paths map[string]map[string]any `json:"paths"`
	}
	if err := json.Unmarshal(h.ask(ctx, h.guests["ann"], "GET", "/openapi.json", nil).body, &description); err != nil {
		h.r.Failf("the description of the API: %v", err)
		return
	}
	before := h.contents(ctx)
	seen, ids := 0, h.ids
	if h.r.N < 1000 {
		ids = ids[:4] // a bow, a set-up, a session, a reading
	}
	for path, methods := range description.Paths {
		for method := range methods {
			op := strings.ToUpper(method) + " " + path
			for i, id := range ids {
				if i > 0 && !strings.Contains(path, "{") {
					break
				}
				h.operation(ctx, op, id, &seen)
			}
		}
	}
	after := h.contents(ctx)
	for key, row := range before.Rows {
		if now, there := after.Rows[key]; !byItself[row.Table] && (!there || string(now.Body) != string(row.Body)) {
			h.r.Failf("%s: %s %s was changed by who asked every address", h.engine, row.Table, key)
		}
	}
	if seen < 5 {
		h.r.Failf("%s: Ann's coach saw her records at %d addresses only: the drill is blind", h.engine, seen)
	}
}

var place = regexp.MustCompile(`\{[^}]*\}`)

func (h *house) operation(ctx context.Context, op, id string, seen *int) {
	method, pattern, _ := strings.Cut(op, " ")
	path := place.ReplaceAllString(pattern, id)
	var body any
	if method != "GET" && method != "DELETE" {
		body = obj{"bow": h.ids[0], "setup": id, "target": id, "recording": id, "trial": id, "hash": Hash(nil)}
	}
	for _, who := range out {
		a := h.ask(ctx, h.guests[who], method, path, body)
		h.r.Counted()
		if a.status < 400 && !openAddresses.MatchString(op) {
			h.r.Failf("%s: %s was let in by %s: %d %.200s", h.engine, someone(who), op, a.status, a.body)
		}
	}
	if method != "GET" {
		h.changed(ctx, op, path, body)
		return
	}
	if !strings.Contains(pattern, "{") {
		path += "?bow=" + h.ids[0]
	}
	for _, who := range strangers {
		a := h.ask(ctx, h.guests[who], method, path, nil, "If-None-Match", `"1"`)
		h.r.Counted()
		if h.words.Match(a.body) || a.status == http.StatusNotModified || a.status < 300 && strings.Contains(pattern, "{") && pattern != "/api/v1/work/{id}" {
			h.r.Failf("%s: %s learns from %s with %s: %d %.200s", h.engine, who, op, id, a.status, a.body)
		}
	}
	if h.words.Match(h.ask(ctx, h.guests["coach"], method, path, nil).body) {
		*seen++
	}
}

// ownDoings are what strangers may do with their own login, and what stores
// nothing of anybody's.
var ownDoings = regexp.MustCompile(`^(POST|PUT|DELETE) /api/v1/(account(/.*)?|logout|logout-everywhere|login|join|join/look|recover|me|recordings/\{id\}/(sound|upload)|groups/(describe|expect)|units/parse|setups/check|ends/read-csv)$`)

// changed sends a change with one of Ann's ids in its place as strangers: none
// may be taken. Whole records that name hers: swappedIDs.
func (h *house) changed(ctx context.Context, op, path string, body any) {
	if ownDoings.MatchString(op) {
		return
	}
	method, _, _ := strings.Cut(op, " ")
	for _, who := range strangers {
		a := h.ask(ctx, h.guests[who], method, path, body, "If-Match", "*")
		h.r.Counted()
		if a.status < 400 || a.status >= 500 && a.status != http.StatusNotImplemented || h.words.Match(a.body) {
			h.r.Failf("%s: %s changes something by %s: %d %.200s", h.engine, who, op, a.status, a.body)
		}
	}
}

func someone(name string) string {
	if name == "" {
		return "nobody"
	}
	return name
}

// swappedIDs sends records of every kind that name Ann's, as those without a
// right; nothing of it may be stored, and Ann's coach shows that it could be.
func (h *house) swappedIDs(ctx context.Context) {
	before := h.contents(ctx)
	for _, who := range slices.Concat(out, strangers, []string{"coach"}) {
		w := Writer{dice: h.r.Random(), Sound: 500, bow: h.named(before, "bows"), setup: h.named(before, "setups"), version: 2, tag: "*", done: []string{h.named(before, "readings")}}
		for _, kind := range []string{"set-up", "session", "reading", "end", "change", "retraction"} {
			s := w.made(kind)
			a := h.ask(ctx, h.guests[who], s.Method, s.Path, json.RawMessage(s.Body), s.Headers...)
			h.r.Counted()
			if fine := a.status < 300; fine != (who == "coach") {
				h.r.Failf("%s: %s sends a %s on Ann's bow: %d %.200s", h.engine, someone(who), kind, a.status, a.body)
			}
		}
	}
	after, more := h.contents(ctx), 0
	for key, row := range after.Rows {
		if old, there := before.Rows[key]; there && string(old.Body) != string(row.Body) {
			h.r.Failf("%s: %s %s was changed", h.engine, row.Table, key)
		} else if !there && !byItself[row.Table] {
			more++
		}
	}
	if more != 6 {
		h.r.Failf("%s: %d records were stored, the coach sent 6", h.engine, more)
	}
}

// contents reads the notebook beside the program.
func (h *house) contents(ctx context.Context) *Contents {
	c, err := (*Contents)(nil), error(nil)
	if h.address == "" {
		c, err = ReadLive(ctx, h.p.Data)
	} else {
		c, err = ReadPostgres(ctx, h.address, h.p.Data)
	}
	if err != nil {
		h.r.Failf("%s: %v", h.engine, err)
		return &Contents{}
	}
	return c
}

// named finds one of Ann's records of a kind.
func (h *house) named(c *Contents, table string) string {
	for key, row := range c.Rows {
		id, _, _ := strings.Cut(key, "/")
		if row.Table == table && slices.Contains(h.ids, id) {
			return id
		}
	}
	return ""
}

// dead demands that a session opens nothing.
func (h *house) dead(ctx context.Context, what, cookie string) {
	a := h.once(ctx, &guest{cookie: cookie}, "GET", "/api/v1/me", nil)
	h.r.Counted()
	if a.status != http.StatusUnauthorized {
		h.r.Failf("%s: a session that is %s: %d %.200s", h.engine, what, a.status, a.body)
	}
}

// sessions: tampered with, revoked, copied, expired.
func (h *house) sessions(ctx context.Context) error {
	ben := h.guests["ben"]
	name, value, _ := strings.Cut(ben.cookie, "=")
	for i := range value {
		other := byte('A')
		if value[i] == 'A' {
			other = 'B'
		}
		if i < len(value)-1 { // the last character holds bits that say nothing
			h.dead(ctx, "changed in one character", name+"="+value[:i]+string(other)+value[i+1:])
		}
	}
	for what, v := range map[string]string{"cut": value[:20], "empty": "", "doubled": value + value, "of zeros": strings.Repeat("A", len(value)), "another name's": "session=" + value, "a person's id": ben.id, "text": `' OR 1=1 --`} {
		if !strings.Contains(v, "session=") {
			v = name + "=" + v
		}
		h.dead(ctx, what, v)
	}
	for _, token := range []string{"", value, strings.Repeat("x", 43), strings.Repeat("y", 10_000)} {
		if a := h.once(ctx, nil, "GET", "/api/v1/me", nil, "Authorization", "Bearer "+token); a.status != http.StatusUnauthorized {
			h.r.Failf("%s: a made-up token: %d", h.engine, a.status)
		}
		h.r.Counted()
	}
	// copied while good, then logged out: the copy is dead too
	copied := ben.cookie
	h.ask(ctx, ben, "POST", "/api/v1/logout", obj{})
	h.dead(ctx, "logged out", copied)
	if err := h.logsIn(ctx, "ben"); err != nil {
		return err
	}
	copied = ben.cookie
	if err := h.logsIn(ctx, "ben"); err != nil {
		return err
	}
	h.ask(ctx, ben, "POST", "/api/v1/logout-everywhere", obj{})
	h.dead(ctx, "copied and ended everywhere", copied)
	h.dead(ctx, "ended everywhere", ben.cookie)
	h.dead(ctx, "of someone put out", h.guests["emil"].cookie)
	if err := h.logsIn(ctx, "ben"); err != nil {
		return err
	}
	return h.expire(ctx, "viewer")
}

// expire moves the end of a session into the past, as time does.
func (h *house) expire(ctx context.Context, who string) error {
	driver, address := "pgx", h.address
	if address == "" {
		driver, address = "sqlite", "file:"+h.p.Data+"/notebook.db?_pragma=busy_timeout(5000)"
	}
	db, err := sql.Open(driver, address)
	if err != nil {
		return err
	}
	defer db.Close()
	_, value, _ := strings.Cut(h.guests[who].cookie, "=")
	done, err := db.ExecContext(ctx, "UPDATE credentials SET expires_utc = '2020-01-01T00:00:00.000000000Z' WHERE hash = $1", Hash([]byte(value)))
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil || n != 1 {
		return fmt.Errorf("%d sessions were made to expire: %w", n, err)
	}
	h.dead(ctx, "expired", h.guests[who].cookie)
	return nil
}

// forged: names, pages of others, addresses.
func (h *house) forged(ctx context.Context) {
	ann := h.guests["ann"]
	port := h.p.Listen[strings.LastIndexByte(h.p.Listen, ':'):]
	for _, host := range []string{"evil.example", "evil.example" + port, "localhost.evil.example", "127.0.0.1.evil.example" + port, "10.0.0.7", "[::2]" + port, "localhost@evil.example", "127.0.0.2" + port} {
		a := h.ask(ctx, ann, "GET", "/api/v1/bows", nil, "Host", host)
		h.r.Counted()
		if a.status != http.StatusMisdirectedRequest && a.status != http.StatusBadRequest {
			h.r.Failf("%s: asked as %s: %d", h.engine, host, a.status)
		}
	}
	for _, head := range [][2]string{
		{"Origin", "https://evil.example"}, {"Origin", "null"}, {"Origin", "http://127.0.0.1.evil.example"}, {"Origin", "https://" + h.p.Listen + ".evil.example"},
		{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"},
	} {
		a := h.ask(ctx, ann, "PUT", "/api/v1/bows/"+string(notebook.NewID()), obj{"name": "forged", "style": "recurve"}, head[0], head[1])
		h.r.Counted()
		if a.status != http.StatusForbidden {
			h.r.Failf("%s: a change with %s: %s: %d", h.engine, head[0], head[1], a.status)
		}
	}
	for _, kind := range []string{"text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""} {
		a := h.ask(ctx, ann, "PUT", "/api/v1/bows/"+string(notebook.NewID()), obj{"name": "forged", "style": "recurve"}, "Content-Type", kind)
		h.r.Counted()
		if a.status != http.StatusUnsupportedMediaType {
			h.r.Failf("%s: a change as %q: %d", h.engine, kind, a.status)
		}
	}
}

// guesses at one account, from one address that forges others before its own,
// and one guess at many accounts. None may succeed, nearly all must be turned
// away unlooked at; whoever knows the password gets in from elsewhere.
func (h *house) guesses(ctx context.Context) {
	n, looked, away := h.r.N, 0, 0
	for i := range 2 * n {
		login, from := "ann", "203.0.113.7"
		if i >= n {
			login, from = fmt.Sprintf("archer-%d", i), "203.0.113.8"
		}
		guess := fmt.Sprintf("wrong horse %d of the night", i)
		a := h.once(ctx, nil, "POST", "/api/v1/login", obj{"login": login, "password": guess}, "X-Forwarded-For", fmt.Sprintf("10.9.%d.%d, %s", i>>8&255, i&255, from))
		h.r.Counted()
		switch a.status {
		case http.StatusUnauthorized:
			looked++
		case http.StatusTooManyRequests:
			if away++; a.head.Get("Retry-After") == "" {
				h.r.Failf("%s: turned away without a time to come again", h.engine)
			}
		default:
			h.r.Failf("%s: guess %d: %d %.200s", h.engine, i, a.status, a.body)
		}
	}
	h.r.Logf("%s: %d guesses, %d looked at, %d turned away unlooked at", h.engine, 2*n, looked, away)
	if away == 0 || n >= 1000 && looked > n/5 {
		h.r.Failf("%s: %d of %d guesses were looked at", h.engine, looked, 2*n)
	}
	if err := h.logsIn(ctx, "ann"); err != nil {
		h.r.Failf("%s: after the guesses: %v", h.engine, err)
	}
	h.secrets = append(h.secrets, "wrong horse", goodPassword, "lanterns")
}

// log reads who did what: every refusal is there, no more, and no secret. What
// waits to be written is, before it is read.
func (h *house) log(ctx context.Context) {
	byStatus, before := map[int]int{}, int64(0)
	for {
		a := h.ask(ctx, h.guests["owner"], "GET", fmt.Sprintf("/api/v1/audit?limit=500&before=%d", before), nil)
		var page struct {
			Rows []notebook.AuditEntry `json:"rows"`
		}
		if err := json.Unmarshal(a.body, &page); err != nil || a.status != http.StatusOK {
			h.r.Failf("%s: the log: %d %v", h.engine, a.status, err)
			return
		}
		for _, secret := range h.secrets {
			if secret != "" && bytes.Contains(a.body, []byte(secret)) {
				h.r.Failf("%s: the log holds %.8s…", h.engine, secret)
			}
		}
		for _, e := range page.Rows {
			byStatus[e.Status]++
			before = e.Seq
		}
		if len(page.Rows) < 500 {
			break
		}
	}
	h.r.Logf("%s: answers %v, in the log %v", h.engine, h.refused, byStatus)
	for _, status := range []int{http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusMisdirectedRequest} {
		more := 0
		if status == http.StatusNotFound { // the log has those, too, that name a record after the ?
			more = h.asked
		}
		if have, want := byStatus[status], h.refused[status]; have < want || have > want+more || want == 0 {
			h.r.Failf("%s: %d answers were %d, the log has %d", h.engine, want, status, have)
		}
	}
	// Of refusals for haste those at the login are all noted; of one address that
	// is nobody's a hundred at once, and all guesses come from two.
	many := http.StatusTooManyRequests
	if least := min(h.refused[many], 100); byStatus[many] < least || byStatus[many] > h.refused[many] || least == 0 {
		h.r.Failf("%s: %d answers were %d, the log has %d", h.engine, h.refused[many], many, byStatus[many])
	}
}

// namesRecord finds a record's id in an address.
var namesRecord = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`)
