package server_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"tautline/internal/store"
)

// A lost answer of a request that uses something up: sent three times more by
// the same person it has happened once, on both engines (U8).
func TestComingInAgain(t *testing.T) { comingInAgain(t, store.Options{}) }

func TestComingInAgainOnPostgreSQL(t *testing.T) {
	comingInAgain(t, store.Options{Database: postgreSQL(t)})
}

func comingInAgain(t *testing.T, on store.Options) {
	var k clock
	c := openClubOn(t, on, k.set)
	api, nobody := "/api/v1", c.as["nobody"]
	people := func() int {
		n, err := c.store.CountAccounts(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := people()
	secret := linkOf(c.as["owner"].do("PUT", api+"/invitations/"+id(), obj{"name": "Carla"}).want(200))
	joining := obj{"secret": secret, "name": "Carla Winter", "login": "carla", "password": goodPassword}
	codes := c.sendsAgain(api+"/join", joining)
	if n := people(); n != before+1 {
		t.Errorf("%d accounts more, 1 meant", n-before)
	}
	if got := nobody.do("POST", api+"/join/look", obj{"secret": secret}).want(200); got.at("used") != true || strings.Contains(string(got.body), "Carla") {
		t.Errorf("of a used link strangers learn %s", got.body)
	}
	for _, other := range []obj{{"password": goodPassword + "s"}, {"login": "ann"}, {"login": "dora"}, {"secret": "x" + secret}} {
		nobody.do("POST", api+"/join", with(joining, other)).want(404)
	}

	fresh := "nine umbrellas under marble"
	recover := obj{"login": "carla", "password": fresh}
	for _, old := range codes[:len(codes)-1] {
		nobody.do("POST", api+"/recover", with(recover, obj{"code": old})).want(401)
	}
	last := with(recover, obj{"code": codes[len(codes)-1]})
	nobody.do("POST", api+"/recover", with(last, obj{"password": "short"})).want(422)
	codes = c.sendsAgain(api+"/recover", last)
	nobody.do("POST", api+"/join", joining).want(404) // the password is another since
	nobody.do("POST", api+"/recover", with(last, obj{"password": fresh + "s"})).want(401)
	nobody.do("POST", api+"/recover", with(last, obj{"login": "ann"})).want(401)

	k.wait(time.Hour + time.Minute)
	nobody.do("POST", api+"/recover", last).want(401)
	for i, code := range codes {
		nobody.do("POST", api+"/recover", obj{"login": "carla", "code": code, "password": "seven kettles over granite"}).want(map[bool]int{true: 200, false: 401}[i == len(codes)-1])
	}
}

// sendsAgain sends what lets someone in, loses the answer, and sends it three
// times more. The last session stands alone, beside those of before; it gives
// the printed codes.
func (c *clubSite) sendsAgain(path string, body obj) (codes []string) {
	c.t.Helper()
	var in *site
	for range 4 {
		r := c.as["nobody"].do("POST", path, body).want(200)
		code := fmt.Sprint(r.at("recovery_code"))
		if slices.Contains(codes, code) {
			c.t.Error("a printed code is given twice")
		}
		if in != nil {
			in.do("GET", "/api/v1/me", nil).want(401)
		}
		codes, in = append(codes, code), c.session(r)
	}
	account := in.do("GET", "/api/v1/account", nil).want(200)
	if places := account.at("sessions").([]any); len(places) != 1 {
		c.t.Errorf("%s: one session was meant, there are %d", path, len(places))
	}
	return codes
}

// linkOf is the secret of a link.
func linkOf(r reply) string {
	_, secret, _ := strings.Cut(fmt.Sprint(r.at("path")), "#")
	return secret
}

func with(body, more obj) obj {
	out := obj{}
	for _, from := range []obj{body, more} {
		for k, v := range from {
			out[k] = v
		}
	}
	return out
}

// A second factor is demanded again too; the code that was used up with the
// lost answer counts for that request alone.
func TestRecoveringAgainWithASecondFactor(t *testing.T) {
	c := openClub(t)
	nobody := c.as["nobody"]
	c.as["ben"].do("POST", "/api/v1/account/confirm", obj{"password": goodPassword}).want(200)
	_, printed := c.secondFactor("ben")
	body := obj{"login": "ben", "code": c.printedCode("ben"), "password": "nine umbrellas under marble", "second": printed[3]}
	nobody.do("POST", "/api/v1/recover", body).want(200)
	for _, second := range []string{"", "000000", printed[3][1:]} {
		if r := nobody.do("POST", "/api/v1/recover", with(body, obj{"second": second})).want(401); r.at("code") != "second-factor" {
			t.Errorf("%q: %s", second, r.body)
		}
	}
	nobody.do("POST", "/api/v1/recover", body).want(200)
	nobody.do("POST", "/api/v1/recover", body).want(401) // once
	nobody.do("POST", "/api/v1/login", obj{"login": "ben", "password": body["password"], "code": printed[3]}).want(401)
	nobody.do("POST", "/api/v1/recover", with(body, obj{"second": printed[4]})).want(200) // one that is good now
}

// printedCode is the code that someone got when they joined.
func (c *clubSite) printedCode(login string) (code string) {
	for _, e := range c.told {
		if body, ok := e.body.(obj); ok && e.operation == "POST /api/v1/join" && body["login"] == login {
			code = fmt.Sprint(e.reply.at("recovery_code"))
		}
	}
	return code
}

// The answer that arrived ends it: once its session is brought, the link is
// used for its own person too.
func TestComingInOnceTheAnswerArrived(t *testing.T) {
	c := openClub(t)
	secret := linkOf(c.as["owner"].do("PUT", "/api/v1/invitations/"+id(), obj{}).want(200))
	body := obj{"secret": secret, "name": "Carla Winter", "login": "carla", "password": goodPassword}
	first := c.session(c.as["nobody"].do("POST", "/api/v1/join", body).want(200))
	first.do("GET", "/api/v1/account", nil).want(200)
	carla := c.session(c.as["nobody"].do("POST", "/api/v1/join", body).want(200))
	carla.do("GET", "/api/v1/me", nil).want(200)
	c.as["nobody"].do("POST", "/api/v1/join", body).want(404)
	carla.do("GET", "/api/v1/me", nil).want(200)
}

// Of resends at once one session is left, with the printed code that works: the
// others are told that the link is used, and may send it once more.
func TestComingInAgainAtOnce(t *testing.T) {
	c := openClub(t)
	secret := linkOf(c.as["owner"].do("PUT", "/api/v1/invitations/"+id(), obj{}).want(200))
	body := obj{"secret": secret, "name": "Carla Winter", "login": "carla", "password": goodPassword}
	c.as["nobody"].do("POST", "/api/v1/join", body).want(200)
	var all sync.WaitGroup
	answers := make([]reply, 4)
	for i := range answers {
		all.Go(func() { answers[i] = c.as["nobody"].do("POST", "/api/v1/join", body) })
	}
	all.Wait()
	var live []reply
	for _, r := range answers {
		if r.status != 200 {
			r.want(404)
		} else if c.session(r).do("GET", "/api/v1/me", nil).status == 200 {
			live = append(live, r)
		}
	}
	if len(live) != 1 {
		t.Fatalf("%d sessions live, 1 meant", len(live))
	}
	c.as["nobody"].do("POST", "/api/v1/recover", obj{"login": "carla", "code": live[0].at("recovery_code"), "password": "nine umbrellas under marble"}).want(200)
}

// The one who was put out does not come back by the link used within the hour.
func TestPutOutPeopleDoNotComeInAgain(t *testing.T) {
	c := openClub(t)
	for _, e := range c.told {
		if body, ok := e.body.(obj); ok && e.operation == "POST /api/v1/join" && body["login"] == "emil" {
			c.as["nobody"].do("POST", "/api/v1/join", body).want(404)
		}
	}
}

// Links, tokens and the codes of a second factor that were in a lost answer
// are made again: the last answer holds, what it replaces opens nothing.
func TestSecretsMadeAgain(t *testing.T) {
	c := openClub(t)
	api, owner, ann := "/api/v1", c.as["owner"], c.as["ann"]
	link, token := api+"/invitations/"+id(), api+"/tokens/"+id()
	var links, tokens []string
	for range 3 {
		links = append(links, linkOf(owner.do("PUT", link, obj{"name": "Dora"}).want(200)))
		tokens = append(tokens, fmt.Sprint(ann.do("PUT", token, obj{"name": "sheet", "may": "read", "days": 9}).want(200).at("secret")))
	}
	if n := len(owner.do("GET", api+"/invitations", nil).at("rows").([]any)); n != 1 {
		t.Errorf("%d links, 1 meant", n)
	}
	c.as["coach"].do("PUT", link, obj{"role": "viewer"}).want(404)
	c.as["ben"].do("PUT", token, obj{"name": "sheet", "may": "read", "days": 9}).want(404)
	for i := range links {
		last := i == len(links)-1
		c.as["nobody"].do("GET", api+"/me", nil, "Authorization", "Bearer "+tokens[i]).want(map[bool]int{true: 200, false: 401}[last])
		c.as["nobody"].do("POST", api+"/join", obj{"secret": links[i], "name": "Dora Quist", "login": "dora", "password": goodPassword}).want(map[bool]int{true: 200, false: 404}[last])
	}
}

// The code that turns a second factor on may be sent again while it is good.
func TestSecondFactorTurnedOnAgain(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	api, ann := "/api/v1", c.as["ann"]
	ann.do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	secret := fmt.Sprint(ann.do("POST", api+"/account/second-factor", obj{}).want(200).at("secret"))
	code := obj{"code": appCode(t, secret, k.now())}
	first := ann.do("PUT", api+"/account/second-factor", code).want(200).at("codes").([]any)
	second := ann.do("PUT", api+"/account/second-factor", code).want(200).at("codes").([]any)
	login := obj{"login": "ann", "password": goodPassword}
	c.as["nobody"].do("POST", api+"/login", with(login, obj{"code": first[0]})).want(401)
	c.as["nobody"].do("POST", api+"/login", with(login, obj{"code": second[0]})).want(200)
	c.as["nobody"].do("POST", api+"/login", with(login, code)).want(401)
	for _, e := range c.told { // the link of a moment ago does not go round it
		if body, ok := e.body.(obj); ok && e.operation == "POST /api/v1/join" && body["login"] == "ann" {
			c.as["nobody"].do("POST", api+"/join", body).want(404)
		}
	}
	k.wait(2 * time.Minute)
	ann.do("PUT", api+"/account/second-factor", code).want(422)
}
