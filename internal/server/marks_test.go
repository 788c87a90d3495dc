package server_test

import (
	"strings"
	"testing"
)

// The marks card of a set-up is made of the sight marks among its readings:
// corrected ones do not count, the day's air moves it, and fewer than two are
// refused with what to do.
func TestMarksCard(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	wrong := id()
	mark := func(one, distance, text, corrects string) {
		t.Helper()
		body := obj{"bow": bow, "setup": setup, "kind": "sight_mark", "text": text, "distance": distance}
		if corrects != "" {
			body["corrects"] = corrects
		}
		s.do("PUT", "/api/v1/readings/"+one, body).want(201)
	}
	mark(id(), "18 m", "12.5 mm", "")
	if r := s.do("GET", "/sheets/marks/"+setup+".pdf", nil).want(422); !strings.Contains(string(r.body), "two or more") {
		t.Errorf("one mark: %s", r.body)
	}
	mark(wrong, "30 m", "50 mm", "")
	mark(id(), "30 m", "23.4 mm", wrong)
	mark(id(), "50 m", "45.1 mm", "")
	if pdf := s.do("GET", "/sheets/marks/"+setup+".pdf?paper=Letter", nil).want(200); !strings.HasPrefix(string(pdf.body), "%PDF") {
		t.Errorf("%.80s", pdf.body)
	}
	text := string(s.do("GET", "/sheets/marks/"+setup+".txt", nil).want(200).body)
	if !strings.Contains(text, "30 m      23.") || !strings.Contains(text, "90 m *") {
		t.Errorf("the card reads\n%s", text)
	}
	hot := s.do("GET", "/api/v1/sheets/marks/"+setup+"?air=40+%C2%B0C,+850+hPa", nil).want(200)
	if address := hot.at("pdf").(string); !strings.HasSuffix(address, ".pdf?air=40+%C2%B0C%2C+850+hPa") || strings.Contains(string(hot.body), "15 °C") {
		t.Errorf("%s", hot.body)
	}
	if hotText := string(s.do("GET", "/sheets/marks/"+setup+".txt?air=40+%C2%B0C,+850+hPa", nil).want(200).body); hotText == text {
		t.Error("hot thin air moves no mark")
	}
	s.do("GET", "/sheets/marks/"+setup+".pdf?air=windy", nil).want(422)
}
