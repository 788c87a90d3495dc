package server_test

import (
	"archive/zip"
	"bytes"
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"io"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
)

// clock is a time that a test moves on.
type clock struct{ ahead atomic.Int64 }

func (k *clock) now() time.Time { return time.Now().Add(time.Duration(k.ahead.Load())) }

func (k *clock) wait(d time.Duration) { k.ahead.Add(int64(d)) }

func (k *clock) set(c *server.Config) { c.Now = k.now }

// appCode is what an authenticator app shows, computed here anew (RFC 6238).
func appCode(t testing.TB, secret string, at time.Time) string {
	t.Helper()
	key, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil {
		t.Fatal(err)
	}
	mac := hmac.New(sha1.New, key)
	_ = binary.Write(mac, binary.BigEndian, at.Unix()/30)
	sum := mac.Sum(nil)
	n := binary.BigEndian.Uint32(sum[sum[19]&15:]) & 0x7fffffff
	return fmt.Sprintf("%06d", n%1000000)
}

// secondFactor sets one up for who has just confirmed, and gives the secret
// and the printed codes.
func (c *clubSite) secondFactor(who string) (secret string, printed []string) {
	c.t.Helper()
	made := c.tell(who, "POST /api/v1/account/second-factor", "/api/v1/account/second-factor", obj{}, 200)
	secret = fmt.Sprint(made.at("secret"))
	if !strings.Contains(fmt.Sprint(made.at("address")), secret) || !strings.HasPrefix(fmt.Sprint(made.at("picture")), "data:image/png;base64,iVBOR") {
		c.t.Errorf("the second factor is shown as %.200s", made.body)
	}
	c.as[who].do("PUT", "/api/v1/account/second-factor", obj{"code": "12345"}).want(422)
	kept := c.tell(who, "PUT /api/v1/account/second-factor", "/api/v1/account/second-factor", obj{"code": appCode(c.t, secret, time.Now())}, 200)
	for _, code := range kept.at("codes").([]any) {
		printed = append(printed, fmt.Sprint(code))
	}
	return secret, printed
}

// T15, T16: with a second factor the password alone lets nobody in; each code
// is good once, printed ones stand in for the app, and a shorter password will
// do. It works without e-mail.
func TestSecondFactor(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	api, nobody := "/api/v1", c.as["nobody"]
	c.as["ann"].do("POST", api+"/account/confirm", obj{"password": "wrong " + goodPassword}).want(422)
	c.as["ann"].do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	secret, printed := c.secondFactor("ann")
	login := func(more obj) reply {
		body := obj{"login": "ann", "password": goodPassword}
		for name, v := range more {
			body[name] = v
		}
		return nobody.do("POST", api+"/login", body)
	}
	if r := login(nil).want(401); r.at("code") != "second-factor" {
		t.Errorf("the password alone: %s", r.body)
	}
	if r := nobody.do("POST", api+"/login", obj{"login": "ann", "password": "not this one at all", "code": "123456"}).want(401); r.at("code") != "not-logged-in" {
		t.Errorf("a wrong password: %s", r.body)
	}
	login(obj{"code": appCode(t, secret, k.now())}).want(401) // used when it was set up
	k.wait(time.Minute)
	code := appCode(t, secret, k.now())
	c.as["ann"] = c.session(login(obj{"code": code[:3] + " " + code[3:]}).want(200))
	login(obj{"code": code}).want(401)
	k.wait(time.Hour)
	login(obj{"code": strings.ToLower(printed[0])}).want(200)
	login(obj{"code": printed[0]}).want(401)
	account := c.as["ann"].do("GET", api+"/account", nil).want(200)
	if account.at("second_factor") != true || account.at("printed_codes") != float64(len(printed)-1) {
		t.Errorf("the account: %s", account.body)
	}
	k.wait(time.Hour)
	changed := c.as["ann"].do("POST", api+"/account/password", obj{"old": goodPassword, "password": "vexW7$ uq"}).want(200)
	c.as["ann"] = c.session(changed)
	c.as["ann"].do("POST", api+"/account/confirm", obj{"password": "vexW7$ uq"}).want(422)
	c.as["ann"].do("POST", api+"/account/confirm", obj{"password": "vexW7$ uq", "code": printed[1]}).want(200)
	c.as["ann"].do("DELETE", api+"/account/second-factor", nil).want(403) // that password cannot stand alone
	if c.as["ben"].do("POST", api+"/account/password", obj{"old": goodPassword, "password": "vexW7$ uq"}).status < 400 {
		t.Error("a password of nine characters stands alone")
	}
}

// The printed recovery code replaces the password, not the second factor.
func TestRecoveryAsksForTheSecondFactor(t *testing.T) {
	c := openClub(t)
	c.as["ben"].do("POST", "/api/v1/account/confirm", obj{"password": goodPassword}).want(200)
	_, printed := c.secondFactor("ben")
	body := obj{"login": "ben", "code": c.printedCode("ben"), "password": "nine umbrellas under marble"}
	c.as["nobody"].do("POST", "/api/v1/recover", body).want(401)
	body["second"] = printed[3]
	c.as["nobody"].do("POST", "/api/v1/recover", body).want(200)
	if r := c.as["nobody"].do("POST", "/api/v1/login", obj{"login": "ben", "password": "nine umbrellas under marble"}).want(401); r.at("code") != "second-factor" {
		t.Errorf("%s", r.body)
	}
}

// T15, T16: whoever lets others in sets a second factor up within a week, and
// is logged out after an hour unused and twelve in all.
func TestOwnersLogin(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	api := "/api/v1"
	owner := func() *site { return c.as["owner"] }
	in := func() {
		t.Helper()
		c.as["owner"] = c.session(c.as["nobody"].do("POST", api+"/login", obj{"login": "owner", "password": goodPassword}).want(200))
	}
	k.wait(50 * time.Minute)
	owner().do("GET", api+"/people", nil).want(200)
	k.wait(50 * time.Minute)
	owner().do("GET", api+"/people", nil).want(200)
	k.wait(61 * time.Minute)
	owner().do("GET", api+"/people", nil).want(401)
	c.as["ann"].do("GET", api+"/people", nil).want(200) // nobody else is
	in()
	for range 14 {
		k.wait(50 * time.Minute)
		owner().do("GET", api+"/account", nil).want(200)
	}
	k.wait(30 * time.Minute)
	owner().do("GET", api+"/people", nil).want(401)
	k.wait(8 * 24 * time.Hour)
	in()
	if r := owner().do("GET", api+"/people", nil).want(403); r.at("code") != "second-factor" {
		t.Errorf("%s", r.body)
	}
	if r := owner().do("GET", api+"/account", nil).want(200); r.at("needs_second_factor") != true {
		t.Errorf("%s", r.body)
	}
	owner().do("GET", api+"/me", nil).want(200)
	owner().do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	made := owner().do("POST", api+"/account/second-factor", obj{}).want(200)
	owner().do("PUT", api+"/account/second-factor", obj{"code": appCode(t, fmt.Sprint(made.at("secret")), k.now())}).want(200)
	owner().do("GET", api+"/people", nil).want(200)
	owner().do("DELETE", api+"/account/second-factor", nil).want(403)
}

// ASVS 6.3.3: where a club asks for it, everyone has a second factor within a
// week, and until then reaches the page that sets it up.
func TestSecondFactorOfAll(t *testing.T) {
	var k clock
	c := openClub(t, k.set, func(c *server.Config) { c.FactorForAll = true })
	api := "/api/v1"
	if r := c.as["ann"].do("GET", api+"/account", nil).want(200); r.at("second_factor_due") == nil {
		t.Errorf("not told: %s", r.body)
	}
	c.as["ann"].do("GET", api+"/bows", nil).want(200)
	k.wait(8 * 24 * time.Hour)
	if r := c.as["ann"].do("GET", api+"/bows", nil).want(403); r.at("code") != "second-factor" {
		t.Errorf("%s", r.body)
	}
	c.as["ann"].do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	made := c.as["ann"].do("POST", api+"/account/second-factor", obj{}).want(200)
	c.as["ann"].do("PUT", api+"/account/second-factor", obj{"code": appCode(t, fmt.Sprint(made.at("secret")), k.now())}).want(200)
	c.as["ann"].do("GET", api+"/bows", nil).want(200)
	c.as["ann"].do("DELETE", api+"/account/second-factor", nil).want(403)
}

// T16, T27: one's whole export and erasing ask for the password again, and it
// is forgotten after five minutes; a token does neither.
func TestSayAgain(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	api, ann := "/api/v1", c.as["ann"]
	erasure := api + "/people/" + c.ids["ann"] + "/erasure"
	ann.do("GET", api+"/account/export", nil).want(403)
	if r := ann.do("POST", erasure, obj{"name": "ann"}).want(403); r.at("code") != "say-again" {
		t.Errorf("%s", r.body)
	}
	ann.do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	r := ann.do("GET", api+"/account/export", nil).want(200)
	z, err := zip.NewReader(bytes.NewReader(r.body), int64(len(r.body)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("notebook.json")
	if err != nil {
		t.Fatal(err)
	}
	if text, err := io.ReadAll(f); err != nil || !strings.Contains(string(text), c.ids["ann"]) || strings.Contains(string(text), c.ids["ben"]) {
		t.Errorf("%v, %s", err, text)
	}
	k.wait(6 * time.Minute)
	ann.do("GET", api+"/account/export", nil).want(403)
	secret := ann.do("PUT", api+"/tokens/"+id(), obj{"name": "all", "may": "work", "days": 9}).want(200).at("secret")
	bearer := []string{"Authorization", fmt.Sprint("Bearer ", secret)}
	c.as["nobody"].do("POST", api+"/account/confirm", obj{"password": goodPassword}, bearer...).want(403)
	c.as["nobody"].do("GET", api+"/account/export", nil, bearer...).want(403)
}

// Who may decide that someone goes: they themselves and the owner, with the
// name typed; the last owner stays. What others wrote stays theirs.
func TestWhoErasesWhom(t *testing.T) {
	c := openClub(t)
	api := "/api/v1"
	bow, setup, theirs := id(), id(), id()
	c.as["ann"].do("PUT", api+"/bows/"+bow, obj{"name": "Heron 70", "style": "recurve"}).want(201)
	c.as["ann"].do("PUT", api+"/setups/"+setup, obj{"bow": bow, "reason": "new", "settings": settings()}).want(201)
	c.as["coach"].do("PUT", api+"/readings/"+theirs, obj{"bow": bow, "setup": setup, "kind": "brace_height", "text": "22.1 cm"}).want(201)
	for _, who := range []string{"ben", "other coach", "viewer", "coach", "owner"} {
		c.as[who].do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	}
	for _, try := range []struct {
		who, whom string
		status    int
	}{
		{"nobody", "ann", 401}, {"emil", "ann", 401}, {"ben", "ann", 404}, {"other coach", "ann", 404}, {"viewer", "ann", 403}, {"coach", "ann", 403}, {"ben", "owner", 403}, {"owner", "owner", 403},
	} {
		r := c.as[try.who].do("POST", api+"/people/"+c.ids[try.whom]+"/erasure", obj{"name": try.whom})
		if r.status != try.status {
			t.Errorf("%s erases %s: %d %s", try.who, try.whom, r.status, r.body)
		}
		if look := c.as[try.who].do("GET", api+"/people/"+c.ids[try.whom]+"/belongings", nil); try.whom != "owner" && look.status != try.status {
			t.Errorf("%s counts what is %s's: %d", try.who, try.whom, look.status)
		}
	}
	c.as["owner"].do("POST", api+"/people/"+c.ids["coach"]+"/erasure", obj{"name": "Coach"}).want(200)
	c.as["coach"].do("GET", api+"/bows", nil).want(401)
	r := c.as["ann"].do("GET", api+"/readings/"+theirs, nil).want(200) // what the coach measured stays
	if by := r.at("reading").(obj)["by"]; by != c.ids["coach"] {
		t.Errorf("the reading is now by %v", by)
	}
	log := c.as["owner"].do("GET", api+"/audit?limit=500", nil).want(200)
	erased, refused := 0, 0
	for _, row := range log.at("rows").([]any) {
		if e := row.(obj); strings.Contains(fmt.Sprint(e["what"]), "/erasure") {
			if e["status"] == 200.0 && e["target"] == c.ids["coach"] && e["actor"] == c.ids["owner"] {
				erased++
			} else if e["status"].(float64) >= 400 {
				refused++
			}
		}
	}
	if erased != 1 || refused != 8 {
		t.Errorf("the log holds %d erasures and %d refusals", erased, refused)
	}
}
