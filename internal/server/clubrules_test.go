package server_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/internal/store"
	"tautline/notebook"
)

// asking are those who try what the rules are about, Ann last.
var asking = []string{"nobody", "emil", "ben", "other coach", "coach", "viewer", "owner", "ann"}

// rule is what a route of accounts and people answers to each of those, in
// their order; 0: not tried. What is asked has all that it needs, so that only
// the right to it can be missing. Where there is something to name, it is
// Ann's, made anew for each who asks for it.
type rule struct {
	operation string
	path      func(c *clubSite, who string) string // after /api/v1; nil: the operation's own
	body      func(c *clubSite, who string) any
	answers   [8]int
	with      []string // headers
	spare     bool     // asked in a session begun for it
	ends      string   // who may change this of hers, beside her and the owner
}

// Answers that several rules share.
var (
	members   = [8]int{401, 401, 200, 200, 200, 200, 200, 200} // each about themselves
	ownerOnly = [8]int{401, 401, 403, 403, 403, 403, 200, 403}
	nobodys   = [8]int{404, 404, 404, 404, 404, 404, 404, 404}
	wrong     = [8]int{401, 401, 401, 401, 401, 401, 401, 401}
	refusedOf = [8]int{401, 401, 422, 422, 422, 422, 422, 422}
	annsOnly  = [8]int{401, 401, 404, 404, 404, 404, 404, 200}
)

func sends(body obj) func(*clubSite, string) any {
	return func(*clubSite, string) any { return body }
}

func fresh(before string) func(*clubSite, string) string {
	return func(*clubSite, string) string { return before + id() }
}

func annsPerson(after string) func(*clubSite, string) string {
	return func(c *clubSite, _ string) string { return "/people/" + c.ids["ann"] + after }
}

// rules is one for each route that Ann's story does not use. Whoever is not let
// in learns of no route what it is; who does not know Ann learns that there is
// no such person; who knows her, that it is not theirs to decide.
var rules = []rule{
	{operation: "POST /api/v1/account/confirm", body: sends(obj{"password": goodPassword}), answers: members}, // first: what follows asks for it

	{operation: "GET /api/v1/account", answers: [8]int{200, 200, 200, 200, 200, 200, 200, 200}},
	{operation: "POST /api/v1/account/password", body: sends(obj{"old": "not this one at all", "password": goodPassword + " ten"}), answers: refusedOf},
	{operation: "GET /api/v1/account/export", answers: members},
	{operation: "POST /api/v1/account/second-factor", body: sends(obj{}), answers: members},
	{operation: "PUT /api/v1/account/second-factor", body: sends(obj{"code": "000000"}), answers: refusedOf},
	{operation: "DELETE /api/v1/account/second-factor", answers: members},
	{operation: "DELETE /api/v1/account/sessions/{id}", path: func(c *clubSite, _ string) string { return "/account/sessions/" + c.annsSession() }, answers: annsOnly},
	{operation: "POST /api/v1/login", body: sends(obj{"login": "ann", "password": "not this one at all"}), answers: wrong},
	{operation: "POST /api/v1/recover", body: func(c *clubSite, _ string) any {
		return obj{"login": "viewer", "code": c.recoveryCode("coach"), "password": goodPassword + " ten"}
	}, answers: wrong},
	{operation: "POST /api/v1/join", body: func(c *clubSite, _ string) any {
		return obj{"secret": c.withdrawnLink(), "name": "late", "login": "late", "password": goodPassword}
	}, answers: nobodys},
	{operation: "POST /api/v1/join/look", body: func(c *clubSite, _ string) any { return obj{"secret": c.withdrawnLink()} }, answers: nobodys},

	{operation: "GET /api/v1/tokens", answers: members},
	{operation: "PUT /api/v1/tokens/{id}", path: fresh("/tokens/"), body: sends(obj{"name": "another", "may": "read", "days": 9}), answers: members},
	{operation: "PUT /api/v1/tokens/{id}", path: func(c *clubSite, _ string) string { return "/tokens/" + c.annsToken() }, body: sends(obj{"name": "another", "may": "work", "days": 300}),
		answers: [8]int{401, 401, 404, 404, 404, 404, 404, 0}},
	{operation: "DELETE /api/v1/tokens/{id}", path: func(c *clubSite, _ string) string { return "/tokens/" + c.annsToken() }, answers: annsOnly},

	{operation: "GET /api/v1/invitations", answers: members},
	{operation: "PUT /api/v1/invitations/{id}", path: fresh("/invitations/"), body: sends(obj{"name": "guest", "role": "viewer"}), answers: [8]int{401, 401, 200, 200, 200, 403, 200, 200}},
	{operation: "PUT /api/v1/invitations/{id}", path: fresh("/invitations/"), body: sends(obj{"name": "guest", "role": "archer"}), answers: [8]int{401, 401, 403, 200, 200, 403, 200, 403}},
	{operation: "PUT /api/v1/invitations/{id}", path: fresh("/invitations/"), body: sends(obj{"name": "guest", "role": "coach"}), answers: ownerOnly},
	{operation: "PUT /api/v1/invitations/{id}", path: fresh("/invitations/"), body: sends(obj{"name": "guest", "role": "owner"}), answers: ownerOnly},
	{operation: "PUT /api/v1/invitations/{id}", path: fresh("/invitations/"), body: func(c *clubSite, _ string) any { return obj{"person": c.ids["ann"]} }, answers: ownerOnly},
	{operation: "DELETE /api/v1/invitations/{id}", path: func(c *clubSite, _ string) string { return "/invitations/" + c.annsInvitation() }, answers: [8]int{401, 401, 404, 404, 404, 404, 200, 200}},

	{operation: "GET /api/v1/people", answers: members},
	{operation: "PUT /api/v1/people/{id}/standing", path: annsPerson("/standing"), body: sends(obj{"role": "archer"}), with: []string{"If-Match", "*"}, answers: [8]int{401, 401, 404, 404, 403, 403, 200, 200}}, // she sends what she is anyway
	{operation: "PUT /api/v1/people/{id}/standing", path: func(c *clubSite, who string) string { return "/people/" + c.idOf(who) + "/standing" }, body: sends(obj{"role": "owner"}), with: []string{"If-Match", "*"}, answers: ownerOnly},
	{operation: "GET /api/v1/people/{id}/belongings", path: annsPerson("/belongings"), answers: [8]int{401, 401, 404, 404, 403, 403, 200, 200}},
	{operation: "POST /api/v1/people/{id}/erasure", path: annsPerson("/erasure"), body: sends(obj{"name": "ann"}), answers: [8]int{401, 401, 404, 404, 403, 403, 0, 0}}, // those who may: TestErase

	{operation: "GET /api/v1/shares", answers: members},
	{operation: "PUT /api/v1/shares/{id}", path: fresh("/shares/"), body: func(c *clubSite, _ string) any {
		return obj{"with": c.ids["coach"], "may": "work", "archer": c.ids["ann"]}
	}, answers: [8]int{401, 401, 404, 404, 404, 404, 404, 201}},
	{operation: "PUT /api/v1/retractions/{id}", path: fresh("/retractions/"), body: func(c *clubSite, _ string) any { return obj{"target": c.annsShare()} }, answers: [8]int{401, 401, 422, 422, 422, 201, 201, 201}, ends: "viewer"}, // with whom it is ends it too
	{operation: "GET /api/v1/audit", answers: ownerOnly},
	{operation: "GET /api/v1/support", answers: ownerOnly},

	{operation: "POST /api/v1/logout", body: sends(obj{}), spare: true, answers: members},
	{operation: "POST /api/v1/logout-everywhere", body: sends(obj{}), spare: true, answers: members}, // last: it ends all
}

// T14: every route of the rules as everyone. What is Ann's is as before unless
// she, or the owner, was let do it, and nobody is told of it who may not know.
func TestAccountRules(t *testing.T) {
	c := openClub(t, proxied)
	for op, tag := range tagged(c.do("GET", "/openapi.json", nil).want(200)) {
		if tag == "accounts" && !ruled(op) {
			t.Errorf("%s has no rule: give it a place in rules", op)
		}
	}
	keepsTheRules(t, c, 1)
}

// The same on PostgreSQL, for one in three; TAUTLINE_LONG tries all.
func TestAccountRulesOnPostgreSQL(t *testing.T) {
	oneIn := 3
	if os.Getenv("TAUTLINE_LONG") != "" {
		oneIn = 1
	}
	keepsTheRules(t, openClubOn(t, store.Options{Database: postgreSQL(t)}, proxied), oneIn)
}

func keepsTheRules(t *testing.T, c *clubSite, oneIn int) {
	day, tried := uint64(time.Now().YearDay()), 0
	dice := rand.New(rand.NewPCG(day, 8))
	bow := id()
	c.as["ann"].do("PUT", "/api/v1/bows/"+bow, obj{"name": "Heron 70", "style": "recurve"}).want(201)
	hers := append(c.treasures(), treasure{"Ann's bow", bow, []string{"ann"}}) // in nothing that is told of people, but her own export
	for i, r := range rules {
		for at, who := range asking {
			if r.answers[at] == 0 || i > 0 && dice.IntN(oneIn) > 0 {
				continue
			}
			c.keeps(t, r, who, r.answers[at], hers)
			tried++
		}
	}
	t.Logf("seed %d, the day of the year: %d requests", day, tried)
}

func (c *clubSite) keeps(t *testing.T, r rule, who string, want int, hers []treasure) {
	t.Helper()
	method, path, _ := strings.Cut(r.operation, " ")
	if r.path != nil {
		path = "/api/v1" + r.path(c, who)
	}
	var body any
	if r.body != nil {
		body = r.body(c, who)
	}
	as := c.as[who]
	if r.spare && want < 300 {
		as = c.another(who)
	}
	before := c.annHas()
	got := as.do(method, path, body, append(c.elsewhere(), r.with...)...)
	if got.status != want {
		t.Errorf("%s: %s: %d, the rule is %d: %.300s", who, r.operation, got.status, want, got.body)
	}
	if after := c.annHas(); after != before && (who != "ann" && who != "owner" && who != r.ends || got.status >= 300) {
		t.Errorf("%s: %s changed what is Ann's: %s", who, r.operation, apart(before, after))
	}
	text := got.body
	if strings.Contains(got.header.Get("Content-Type"), "zip") {
		text = unzipped(t, text)
	}
	for _, x := range hers {
		told := bytes.Contains(text, []byte(x.text))
		if told && !slices.Contains(x.known, who) && !strings.Contains(path, x.text) && r.operation != "GET /api/v1/audit" {
			t.Errorf("%s learns %s from %s: %.300s", who, x.what, r.operation, text)
		}
	}
}

// treasure is something of Ann's that few know.
type treasure struct {
	what, text string
	known      []string
}

// treasures are made for the rules; whoever should see them does, so that the
// rules can see.
func (c *clubSite) treasures() []treasure {
	c.t.Helper()
	share := c.annsShare()
	all := []treasure{
		{"Ann's token", c.annsToken(), []string{"ann"}},
		{"Ann's session", c.annsSession(), []string{"ann"}},
		{"Ann's invitation", c.annsInvitation(), []string{"ann", "owner"}},
		{"Ann's share with the viewer", share, []string{"ann", "owner", "viewer"}},
		{"that Ann is here", c.ids["ann"], []string{"ann", "owner", "viewer", "coach"}},
	}
	for path, x := range map[string]treasure{"/tokens": all[0], "/account": all[1], "/invitations": all[2], "/shares": all[3], "/people": all[4]} {
		if text := string(c.as["ann"].do("GET", "/api/v1"+path, nil).want(200).body); !strings.Contains(text, x.text) {
			c.t.Errorf("Ann herself does not see %s in %s: %s", x.what, path, text)
		}
	}
	return all
}

// annHas is her account, standing and shares as stored, and which sessions,
// tokens and links are hers.
func (c *clubSite) annHas() string {
	c.t.Helper()
	ctx, ann := c.t.Context(), notebook.ID(c.ids["ann"])
	a, err := c.store.AccountOf(ctx, ann)
	if err != nil {
		c.t.Fatal(err)
	}
	a.Tries = notebook.Tries{} // wrong passwords count
	p, err := c.store.People().Get(ctx, "", ann)
	if err != nil {
		c.t.Fatal(err)
	}
	out := &strings.Builder{}
	fmt.Fprintf(out, "%+v %+v", a, p)
	for _, kind := range []notebook.CredentialKind{notebook.SessionCredential, notebook.TokenCredential, notebook.InvitationCredential, notebook.RecoveryCredential} {
		all, err := c.store.Credentials(ctx, kind, "", time.Now())
		if err != nil {
			c.t.Fatal(err)
		}
		for _, x := range all {
			if x.Person == ann || x.By == ann {
				fmt.Fprintf(out, "\n%s %s %s", kind, x.ID, x.May)
			}
		}
	}
	shares, err := c.store.Shares().List(ctx, ann, notebook.Query{Limit: 1000}) // without those taken back
	if err != nil {
		c.t.Fatal(err)
	}
	for _, x := range shares.Rows {
		if x.Archer == ann {
			fmt.Fprintf(out, "\nshare %s %s %s", x.ID, x.With, x.May)
		}
	}
	return out.String()
}

func (c *clubSite) idOf(who string) string {
	if c.ids[who] == "" {
		return c.ids["ann"]
	}
	return c.ids[who]
}

// elsewhere is an address that nobody came from before, so that no pace is kept
// but the person's.
func (c *clubSite) elsewhere() []string {
	c.from++
	return strange(10_000 + c.from)
}

// another is one more session of someone's.
func (c *clubSite) another(who string) *site {
	c.t.Helper()
	body := obj{"login": strings.ReplaceAll(who, " ", "-"), "password": goodPassword}
	return c.session(c.as["nobody"].do("POST", "/api/v1/login", body, c.elsewhere()...).want(200))
}

func (c *clubSite) annsSession() string {
	c.t.Helper()
	for _, place := range c.another("ann").do("GET", "/api/v1/account", nil).want(200).at("sessions").([]any) {
		if one := place.(obj); one["here"] == true {
			return fmt.Sprint(one["id"])
		}
	}
	c.t.Fatal("Ann's session is not listed")
	return ""
}

func (c *clubSite) annsToken() string {
	c.t.Helper()
	token := id()
	c.as["ann"].do("PUT", "/api/v1/tokens/"+token, obj{"name": "hers", "may": "read", "days": 30}).want(200)
	return token
}

func (c *clubSite) annsInvitation() string {
	c.t.Helper()
	link := id()
	c.as["ann"].do("PUT", "/api/v1/invitations/"+link, obj{"name": "her brother", "role": "viewer"}).want(200)
	return link
}

func (c *clubSite) annsShare() string {
	c.t.Helper()
	share := id()
	c.as["ann"].do("PUT", "/api/v1/shares/"+share, obj{"with": c.ids["viewer"], "may": "read"}).want(201)
	return share
}

// withdrawnLink is the secret of a link that lets nobody in any more.
func (c *clubSite) withdrawnLink() string {
	c.t.Helper()
	link := id()
	_, secret, _ := strings.Cut(fmt.Sprint(c.as["owner"].do("PUT", "/api/v1/invitations/"+link, obj{"role": "archer"}).want(200).at("path")), "#")
	c.as["owner"].do("DELETE", "/api/v1/invitations/"+link, nil).want(200)
	return secret
}

// recoveryCode is the printed code that someone got when they joined.
func (c *clubSite) recoveryCode(of string) string {
	c.t.Helper()
	for _, e := range c.told {
		if body, ok := e.body.(obj); ok && e.operation == "POST /api/v1/join" && body["name"] == of {
			return fmt.Sprint(e.reply.at("recovery_code"))
		}
	}
	c.t.Fatalf("%s has no code", of)
	return ""
}

func unzipped(t *testing.T, file []byte) (all []byte) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, text...)
	}
	return all
}

// everyRoute: what is tried is all there is, and no rule is left of a route
// that is gone.
func everyRoute(t *testing.T, s *site, ann []exchange) {
	t.Helper()
	all := operations(s.do("GET", "/openapi.json", nil).want(http.StatusOK))
	for _, op := range all {
		if !ruled(op) && !slices.ContainsFunc(ann, func(e exchange) bool { return e.operation == op }) {
			t.Errorf("nobody tries %s as a stranger: use it in Ann's story, or give it a place in rules", op)
		}
	}
	for _, r := range rules {
		if !slices.Contains(all, r.operation) {
			t.Errorf("there is a rule for %s, which is no route", r.operation)
		}
	}
}

// apart are the lines that one text has and the other has not.
func apart(before, after string) (lines []string) {
	was, is := strings.Split(before, "\n"), strings.Split(after, "\n")
	for _, line := range was {
		if !slices.Contains(is, line) {
			lines = append(lines, "- "+line)
		}
	}
	for _, line := range is {
		if !slices.Contains(was, line) {
			lines = append(lines, "+ "+line)
		}
	}
	return lines
}

func ruled(op string) bool {
	return slices.ContainsFunc(rules, func(r rule) bool { return r.operation == op })
}

// tagged are the operations of a description with their chapters.
func tagged(description reply) map[string]string {
	out := map[string]string{}
	for path, methods := range description.tree()["paths"].(obj) {
		for method, op := range methods.(obj) {
			for _, tag := range op.(obj)["tags"].([]any) {
				out[strings.ToUpper(method)+" "+path] = fmt.Sprint(tag)
			}
		}
	}
	return out
}
