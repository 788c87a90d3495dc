package server_test

import (
	"fmt"
	"testing"
)

// takenBack lists what is out of sight, as "what".
func (s *site) takenBack(query string) (list []string) {
	s.t.Helper()
	after := ""
	for {
		page := s.do("GET", "/api/v1/retractions?limit=2"+query+after, nil).want(200)
		for _, row := range page.at("rows").([]any) {
			list = append(list, fmt.Sprint(row.(obj)["what"]))
		}
		next := page.at("next")
		if next == nil {
			return list
		}
		after = fmt.Sprintf("&after=%v", next)
	}
}

// What was taken back is listed in words, by bow and by session, the last
// first, until it is brought back; nothing of it is gone.
func TestTakenBack(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	other, _ := s.bowWithSetUp()
	session, reading, end, trial, event := id(), id(), id(), id(), id()
	s.do("PUT", "/api/v1/sessions/"+session, obj{"bow": bow, "place": "hall"}).want(201)
	s.do("PUT", "/api/v1/readings/"+reading, obj{"bow": bow, "setup": setup, "session": session, "kind": "bare_shaft_right", "text": "4 cm", "distance": "30 m"}).want(201)
	s.do("PUT", "/api/v1/ends/"+end, obj{"bow": bow, "setup": setup, "session": session, "number": 3, "distance": "18 m", "face": "40", "impacts": []obj{{"ring": "9"}, {"ring": "8"}}}).want(201)
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"turns_per_step": 3}}).want(201)
	s.do("PUT", "/api/v1/trials/"+trial+"/events/"+event, obj{"what": "finished"}).want(201)
	gone := map[string]string{}
	for _, target := range []string{reading, end, event, other} {
		gone[target] = id()
		s.do("PUT", "/api/v1/retractions/"+gone[target], obj{"target": target, "reason": "a slip"}).want(201)
	}
	same := func(query string, want ...string) {
		t.Helper()
		if got := s.takenBack(query); fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%q lists %q, wanted %q", query, got, want)
		}
	}
	same("", "bow, Blue 68", "trial, brace height: finished", "end 3, 2 arrows at 18 m", "bare shaft right of the group at 30 m: 4.0 cm right")
	same("&bow="+bow, "trial, brace height: finished", "end 3, 2 arrows at 18 m", "bare shaft right of the group at 30 m: 4.0 cm right")
	same("&bow="+other, "bow, Blue 68")
	same("&session="+session, "end 3, 2 arrows at 18 m", "bare shaft right of the group at 30 m: 4.0 cm right")
	same("&bow=" + other + "&session=" + session)
	if state := s.do("GET", "/api/v1/trials/"+trial, nil).want(200).at("brief/state"); state == "finished" {
		t.Error("the trial is still finished")
	}

	undo := id()
	s.do("PUT", "/api/v1/retractions/"+undo, obj{"target": gone[end], "reason": "brought back"}).want(201)
	same("&session="+session, "bare shaft right of the group at 30 m: 4.0 cm right")
	if n := len(s.do("GET", "/api/v1/ends?session="+session, nil).want(200).at("rows").([]any)); n != 1 {
		t.Errorf("%d ends after the end was brought back", n)
	}
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": undo}).want(422)
	s.do("PUT", "/api/v1/retractions/"+id(), obj{"target": end, "reason": "after all"}).want(201)
	same("&session="+session, "end 3, 2 arrows at 18 m", "bare shaft right of the group at 30 m: 4.0 cm right")
	s.do("GET", "/api/v1/retractions?after=elsewhere", nil).want(422)
}

// What was taken back is as private as the record itself, for lists of one bow
// and of everything; who may read sees who took it back, and who may not work
// on the bow brings nothing back.
func TestTakenBackIsPrivate(t *testing.T) {
	c := openClub(t)
	ann := c.as["ann"]
	bow, setup := ann.bowWithSetUp()
	reading, gone := id(), id()
	ann.do("PUT", "/api/v1/readings/"+reading, obj{"bow": bow, "setup": setup, "kind": "note", "text": "a secret of Ann's"}).want(201)
	c.as["coach"].do("PUT", "/api/v1/retractions/"+gone, obj{"target": reading, "reason": "said in anger"}).want(201)
	by := map[string]any{"ann": "coach", "coach": "coach"} // a viewer does not know the coach
	for who, rows := range map[string]int{"ann": 1, "coach": 1, "viewer": 1, "ben": 0, "other coach": 0} {
		for _, query := range []string{"", "?bow=" + bow} {
			got := c.as[who].do("GET", "/api/v1/retractions"+query, nil).want(200)
			list := got.at("rows").([]any)
			if len(list) != rows {
				t.Errorf("%s sees %d of what was taken back, wanted %d: %s", who, len(list), rows, got.body)
			}
			if rows == 1 && len(list) == 1 && (list[0].(obj)["by_name"] != by[who] || list[0].(obj)["bow"] != bow) {
				t.Errorf("%s reads %v", who, list[0])
			}
		}
	}
	for who, status := range map[string]int{"viewer": 403, "ben": 422, "nobody": 401} {
		c.as[who].do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone}).want(status)
	}
	ann.do("PUT", "/api/v1/retractions/"+id(), obj{"target": gone}).want(201)
	if n := len(ann.do("GET", "/api/v1/readings?bow="+bow, nil).want(200).at("rows").([]any)); n != 1 {
		t.Errorf("%d readings after it was brought back", n)
	}
}
