package server_test

import (
	"fmt"
	"testing"
	"time"
)

// T16: people see where they are logged in, with what and when last used, and
// end one of them: it is out with the next request, the others stay in. Nobody
// ends another's, and who is there says again who they are.
func TestOneSessionEnds(t *testing.T) {
	var k clock
	c := openClub(t, k.set)
	api := "/api/v1"
	login := func(agent string) *site {
		t.Helper()
		return c.session(c.as["nobody"].do("POST", api+"/login", obj{"login": "ann", "password": goodPassword}, "User-Agent", agent).want(200))
	}
	phone := login("Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0")
	laptop := login("Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0 Safari/537.36")
	k.wait(50 * time.Minute)
	phone.do("GET", api+"/me", nil).want(200)
	places := map[string]obj{}
	here := 0
	for _, row := range laptop.do("GET", api+"/account", nil).want(200).at("sessions").([]any) {
		p := row.(obj)
		places[fmt.Sprint(p["device"])] = p
		if p["here"] == true {
			here++
		}
	}
	lost := places["Firefox on Android"]
	if len(places) != 3 || here != 1 || places["Chrome on Linux"]["here"] != true || lost == nil || places["a program"] == nil {
		t.Fatalf("logged in at %v", places)
	}
	began, _ := time.Parse(time.RFC3339, fmt.Sprint(lost["began"]))
	used, _ := time.Parse(time.RFC3339, fmt.Sprint(lost["used"]))
	if d := used.Sub(began); d < 45*time.Minute || d > 55*time.Minute {
		t.Errorf("begun %v, used %v", began, used)
	}
	end := api + "/account/sessions/" + fmt.Sprint(lost["id"])
	if r := laptop.do("DELETE", end, nil).want(403); r.at("code") != "say-again" {
		t.Errorf("%s", r.body)
	}
	for _, other := range []string{"ben", "coach", "owner"} {
		c.as[other].do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
		c.as[other].do("DELETE", end, nil).want(404)
	}
	laptop.do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	laptop.do("DELETE", end, nil).want(200)
	phone.do("GET", api+"/me", nil).want(401)
	laptop.do("GET", api+"/me", nil).want(200)
	c.as["ann"].do("GET", api+"/me", nil).want(200)
	laptop.do("DELETE", end, nil).want(404)
	laptop.do("DELETE", api+"/account/sessions/"+fmt.Sprint(places["Chrome on Linux"]["id"]), nil).want(200)
	laptop.do("GET", api+"/me", nil).want(401)
	secret := c.as["ann"].do("PUT", api+"/tokens/"+id(), obj{"name": "all", "may": "work", "days": 9}).want(200).at("secret")
	c.as["nobody"].do("DELETE", api+"/account/sessions/"+fmt.Sprint(places["a program"]["id"]), nil, "Authorization", fmt.Sprint("Bearer ", secret)).want(403)
}
