package workbench

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"tautline/notebook"
	"tautline/unit"
)

// An indoor set-up is put back from the outdoor one in the order of the job
// (job.md, "The whole job", common practice): limb bolts before the string,
// string before brace height, brace height before nocking point, button before
// arrows; what was read or counted is told apart; a crept brace height counts.
func TestPutBackInOrder(t *testing.T) {
	indoor := with(t, heron(t), "arrow.name", "thick ones", "button.turns", "3", "riser.bolts_upper_turns", "2", "string.strands", "18", "rest.wire_reach", "1 mm")
	outdoor := with(t, indoor, "arrow.name", "thin ones", "button.turns", "5.5", "riser.bolts_upper_turns", "1", "string.strands", "20", "brace_height", "21.6 cm",
		"nocking_point", "10 mm", "draw_weight", "43 lbf", "string.shots_on_it", "900", "clicker", "70 cm", "limbs.range_high", "23 cm")
	at := time.Date(2026, 10, 1, 9, 0, 0, 0, time.UTC)
	b := BowRecords{
		SetUps:   []notebook.SetUp{{Stamp: notebook.Stamp{ID: "in", At: at.AddDate(0, -6, 0)}, Settings: indoor}, {Stamp: notebook.Stamp{ID: "out", At: at}, Settings: outdoor}},
		Readings: []notebook.Reading{{Stamp: notebook.Stamp{ID: "r", At: at.Add(time.Hour)}, SetUp: "out", Kind: notebook.ReadBrace, Value: 0.213}},
	}
	p := b.PutBackTo(b.SetUps[0], notebook.RightHanded)
	var parts []string
	metric := unit.Metric()
	says := map[string]string{}
	for _, s := range p.Steps {
		parts = append(parts, s.Part)
		for i, c := range s.Changes {
			says[c.Key] = s.Says(i, metric)
			if s.Tool == "" || s.Do == "" || c.After == "" {
				t.Errorf("%+v", s)
			}
		}
	}
	if got := strings.Join(parts, ", "); got != "Limb bolts, String, Brace height, Nocking point, Button, Arrows" {
		t.Errorf("in the order %s", got)
	}
	was, _ := indoor.BraceHeight.ToPivot()
	for key, want := range map[string]string{"button.turns": "−2.5 turns", "riser.bolts_upper_turns": "+1 turn", "string.strands": "−2", "brace_height.value": "+" + metric.SettingStyle().Print(was-0.213)} {
		if says[key] != want {
			t.Errorf("%s: by %q, want %q", key, says[key], want)
		}
	}
	if from := p.Steps[2].Changes[0].Before; from != "213 mm (8 3/8 in)" {
		t.Errorf("the brace height now reads %q", from)
	}
	noted := ""
	for _, d := range p.Noted {
		noted += d.Key + " "
	}
	for _, key := range []string{"draw.weight", "clicker", "limbs.range_high"} {
		if !strings.Contains(noted, key) {
			t.Errorf("%s is not told: %s", key, noted)
		}
	}
	if strings.Contains(noted, "shots_on_it") {
		t.Error("a count is put back")
	}
	b.Readings = nil
	if same := b.PutBackTo(b.SetUps[1], notebook.RightHanded); len(same.Steps) != 0 || len(same.After) != 0 {
		t.Errorf("to itself: %+v", same)
	}
}

// What falls due, by shots, by time and by a quarter (common practice, no
// source; the figures are this program's own).
func TestWeek(t *testing.T) {
	now := time.Date(2026, 11, 1, 9, 0, 0, 0, time.UTC)
	ago := func(days int) time.Time { return now.AddDate(0, 0, -days) }
	bow := func(days, shots int) BowRecords {
		s := with(t, heron(t), "string.shots_on_it", fmt.Sprint(shots))
		return BowRecords{SetUps: []notebook.SetUp{{Stamp: notebook.Stamp{ID: "s", At: ago(days)}, Settings: s}}}
	}
	for _, row := range []struct {
		days, shots int
		state       string
	}{{30, 0, WeekCannotTell}, {30, 400, WeekFine}, {30, 5_000, WeekLook}, {30, 12_000, WeekDue}, {400, 300, WeekLook}} {
		if w := bow(row.days, row.shots).Week(notebook.Bow{}, nil, true, nil, now); w.String.State != row.state || w.String.Text == "" || w.Draw != nil {
			t.Errorf("%d days, %d shots: %+v", row.days, row.shots, w.String)
		}
	}
	growing := notebook.Bow{Growing: true}
	for days, state := range map[int]string{10: WeekFine, 80: WeekSoon, 91: WeekDue} {
		if w := bow(days, 400).Week(growing, nil, true, nil, now); w.Draw.State != state || w.Wants() != (state != WeekFine) {
			t.Errorf("draw length entered %d days ago: %+v", days, w.Draw)
		}
	}
	read := bow(200, 400)
	read.Readings = []notebook.Reading{{Stamp: notebook.Stamp{ID: "r", At: ago(20)}, SetUp: "s", Kind: notebook.ReadDrawLength, Value: 0.7}}
	if w := read.Week(growing, nil, true, nil, now); w.Draw.State != WeekFine {
		t.Errorf("read 20 days ago: %+v", w.Draw)
	}
	if w := bow(10, 10).Week(notebook.Bow{}, nil, false, nil, now); w.Judged || w.Next != "" {
		t.Errorf("not judged yet, and it says %q", w.Next)
	}
}
