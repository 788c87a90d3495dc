package server_test

import (
	"fmt"
	"testing"
)

// What docs/manual/club.md says of archers under age is what the server does:
// who brings a junior in, who sees the bows, who takes the export, who erases.
func TestArcherUnderAge(t *testing.T) {
	c, api := openClub(t), "/api/v1"
	link := c.as["coach"].do("PUT", api+"/invitations/"+id(), obj{"name": "junior", "role": "archer"}).want(200).at("path")
	c.joins("junior", fmt.Sprint(link))
	junior, coach, owner := c.as["junior"], c.as["coach"], c.as["owner"]
	bow := id()
	junior.do("PUT", api+"/bows/"+bow, obj{"name": "Junior's first", "style": "recurve"}).want(201)

	sees := func(who string, status int) { t.Helper(); c.as[who].do("GET", api+"/bows/"+bow, nil).want(status) }
	sees("coach", 404) // who invited does not see
	sees("owner", 200)
	owner.do("PUT", api+"/bows/"+bow+"/about", obj{"name": "Mine now", "style": "recurve"}, "If-Match", fmt.Sprint(owner.do("GET", api+"/bows/"+bow, nil).want(200).at("tag"))).want(403)
	junior.do("PUT", api+"/invitations/"+id(), obj{"role": "coach"}).want(403)
	link = junior.do("PUT", api+"/invitations/"+id(), obj{"name": "parent", "role": "viewer"}).want(200).at("path")
	c.joins("parent", fmt.Sprint(link))
	sees("parent", 404)
	share := id()
	junior.do("PUT", api+"/shares/"+share, obj{"with": c.ids["parent"], "may": "read"}).want(201)
	junior.do("PUT", api+"/shares/"+id(), obj{"with": c.ids["coach"], "may": "work"}).want(201)
	sees("parent", 200)
	sees("coach", 200)
	owner.do("PUT", api+"/retractions/"+id(), obj{"target": share, "reason": "asked for"}).want(201)
	sees("parent", 404)

	// The coach who works on everything of the junior's can neither take it
	// along nor erase; the owner can erase, and a name is asked for.
	path := api + "/people/" + c.ids["junior"]
	coach.do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	owner.do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	coach.do("GET", path+"/belongings", nil).want(403)
	coach.do("POST", path+"/erasure", obj{"name": "junior"}).want(403)
	junior.do("POST", api+"/account/confirm", obj{"password": goodPassword}).want(200)
	junior.do("GET", api+"/account/export", nil).want(200)
	owner.do("POST", path+"/erasure", obj{"name": "junior"}).want(200)
	sees("coach", 404)
	sees("owner", 404)
}
