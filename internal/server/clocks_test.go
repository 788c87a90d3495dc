package server_test

import (
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
	"time"
)

// What is noted while clocks are put back, on a journey, or with a phone that
// is a year off stands in the order in which it was received; each keeps its
// writer's moment, whatever offset it was written with, beside the server's
// (T12). Changes of the clock: 26 October 2025, 03:00 CEST to 02:00 CET
// (Directive 2000/84/EC); 30 March 2025 the other way.
func TestClocksThatMove(t *testing.T) {
	s := open(t)
	bow, setup := s.bowWithSetUp()
	written := []struct{ at, utc string }{
		{"2025-10-26T02:30:00+02:00", "2025-10-26T00:30:00Z"}, // before the hour comes again
		{"2025-10-26T02:10:00+01:00", "2025-10-26T01:10:00Z"}, // 40 minutes later, by the wall 20 earlier
		{"2025-10-25T20:20:00-05:00", "2025-10-26T01:20:00Z"}, // after a flight west: the day before
		{"2025-03-30T03:05:00+02:00", "2025-03-30T01:05:00Z"}, // a phone that jumped back half a year, in the hour that is left out
		{"2026-10-26T02:30:00+01:00", "2026-10-26T01:30:00Z"}, // and one a year ahead
		{"2025-10-26T12:00:00+13:45", "2025-10-25T22:15:00Z"}, // an offset that is no whole hour
	}
	var sessions, readings, ends []string
	for i, w := range written {
		session, reading, end := id(), id(), id()
		s.do("PUT", "/api/v1/sessions/"+session, obj{"bow": bow, "at": w.at}).want(201)
		s.do("PUT", "/api/v1/readings/"+reading, obj{"bow": bow, "setup": setup, "session": sessionOf(sessions, session), "kind": "brace_height", "text": fmt.Sprintf("22%d mm", i), "at": w.at}).want(201)
		body := obj{"bow": bow, "setup": setup, "session": sessionOf(sessions, session), "number": i + 1, "distance": "18 m", "face": "40", "impacts": []obj{{"arrow": "1", "ring": "9"}}, "at": w.at}
		s.do("PUT", "/api/v1/ends/"+end, body).want(201)
		body["at"] = w.utc // the same moment, written otherwise: a resend from a phone that changed its zone
		s.do("PUT", "/api/v1/ends/"+end, body).want(200)
		sessions, readings, ends = append(sessions, session), append(readings, reading), append(ends, end)
	}
	inOrder := func(path, record string, ids []string) {
		t.Helper()
		rows := s.do("GET", path, nil).want(200).at("rows").([]any)
		if len(rows) != len(ids) {
			t.Fatalf("%s: %d rows", path, len(rows))
		}
		last := time.Time{}
		for i, row := range rows {
			one := row.(obj)
			if inner, ok := one[record].(obj); ok {
				one = inner
			}
			received, err := time.Parse(time.RFC3339, fmt.Sprint(one["received"]))
			if one["id"] != ids[i] || one["at"] != written[i].utc || err != nil || received.Before(last) || time.Since(received) > time.Hour {
				t.Errorf("%s: place %d has %v at %v, received %v; %s at %s is meant", path, i, one["id"], one["at"], one["received"], ids[i], written[i].utc)
			}
			last = received
		}
	}
	inOrder("/api/v1/sessions?bow="+bow, "session", sessions)
	inOrder("/api/v1/readings?bow="+bow, "reading", readings)
	inOrder("/api/v1/ends?bow="+bow, "end", ends)
	inOrder("/api/v1/ends?session="+sessions[0], "end", ends)
	for path, column := range map[string]int{"/api/v1/readings.csv?bow=" + bow: 1, "/api/v1/ends.csv?bow=" + bow: 7} {
		table, err := csv.NewReader(strings.NewReader(string(s.do("GET", path, nil).want(200).body))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range written {
			if got := table[i+1][column]; got != w.utc {
				t.Errorf("%s: line %d is of %s, want %s", path, i+1, got, w.utc)
			}
		}
	}
	if last := s.do("GET", "/api/v1/bows/"+bow, nil).want(200).at("last_session"); last != nil && last.(obj)["id"] != sessions[len(sessions)-1] {
		t.Errorf("the last session is %v, want the one received last", last)
	}
}

// sessionOf is the first session: all belong to one evening.
func sessionOf(sessions []string, otherwise string) string {
	if len(sessions) == 0 {
		return otherwise
	}
	return sessions[0]
}
