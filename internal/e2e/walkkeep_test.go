package e2e

import (
	"fmt"
)

// oddOne is a table of six ends in which shaft 4 always flies out to the right.
func oddOne() string {
	table := "end,arrow,x_cm,y_cm\n"
	for end := range 6 {
		for arrow := range 6 {
			x, y := 3*((end+2*arrow)%5)-6, 3*((2*end+arrow)%5)-6
			if arrow == 3 {
				x += 25
			}
			table += fmt.Sprintf("%d,%d,%d,%d\n", end+1, arrow+1, x, y)
		}
	}
	return table
}

// keep checks the bow by a round, looks at the charts, and finds the arrow that
// always flies out, from a table of what was shot.
func (w *walker) keep() {
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.h.press("Round")
	w.b.see("not read yet")
	w.h.press("Kestrel 68")
	w.b.at("/bows/(" + w.bow + ")/round")
	w.h.fill("brace_height", "21,8 cm")
	w.h.fill("nocking_point", "8 mm")
	w.h.fill("tiller", "3 mm")
	w.h.press("Save")
	w.b.see("3 readings noted")
	w.read("nocking_point", 0.008)
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.toBow()
	w.h.press("Keep it")
	w.b.at("/bows/(" + w.bow + ")/upkeep")
	w.b.long("brace height")
	w.toBow()
	w.h.press("Plot an end")
	w.h.press("Tables: CSV in and out")
	w.b.see("Bring a table in")
	w.h.fill("Or paste it here", "")
	w.b.paste(oddOne())
	w.h.press("Read it")
	w.b.see("36 arrows in 6 ends")
	w.h.fill("table_distance", "50 m")
	w.h.press("Keep all 36 arrows")
	w.b.see("6 ends are in the notebook now")
	w.h.press("Look at the groups")
	w.b.see("number 4 always flies out")
}

// match enters the spare and brings it to match: the change is opened ready
// made, and saved.
func (w *walker) match() {
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.h.press("Enter another bow")
	w.enter("Dipper 68", "36 lbf", "21,0 cm")
	w.spare = w.save()
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.toBow()
	w.h.press("Side by side")
	w.b.see("Beside which bow")
	w.h.pick("Beside which bow", w.spare)
	w.b.see("Bring the second bow to match")
	w.h.press("Find the changes")
	w.b.long("Change on Dipper 68")
	wanted := evaluate[int](w.b, `document.querySelectorAll("main ol li").length`)
	w.h.press("Open it as a change of Dipper 68")
	w.b.at("/bows/(" + w.spare + ")/change")
	w.h.fill("reason", "to match Kestrel 68")
	w.h.press("Save as the next set-up")
	w.b.at("/bows/(" + w.spare + ")")
	w.b.see("to match Kestrel 68")
	w.b.sent()
	var list rows[struct{ Changes []struct{ Key string } }]
	w.n.get("/bows/"+w.spare+"/setups", &list)
	if got := list.Rows[0].Changes; wanted == 0 || len(got) != wanted {
		w.b.t.Errorf("the spare's new set-up changes %v, the page listed %d changes", got, wanted)
	}
}

// string enters another string, asks what still counts, and answers: brace
// height and one bare shaft, read again.
func (w *walker) string() {
	w.h.press("Bench")
	w.b.see("Enter another bow")
	w.change("the old string's serving was worn", [][2]string{{"/string/twists", "20"}, {"/string/shots_on_it", "60"}, {"/brace_height/value", "21.6 cm"}}, "Another string")
	w.stands(map[string]float64{"/brace_height/value": 0.216, "/string/twists": 20})
	w.h.press("Does it still count?")
	w.b.at("/bows/(" + w.bow + ")/standing")
	w.b.long("Take it again")
	w.toBow()
	w.h.press("Keep it")
	w.h.press("Note a check reading")
	w.reading("brace_height", "21.7 cm")
	w.reading("bare_shaft_right", "-5 cm", [2]string{"distance", "18 m"})
	w.read("bare_shaft_right", -0.06, -0.05)
	w.h.press("Keep it")
	w.b.at("/bows/(" + w.bow + ")/upkeep")
	w.b.do("the check is answered", waitFor(`/21[.,]7 cm|217 mm/.test(document.body.innerText)`))
}

// putBack works down the list that leads to the set-up before the new string,
// and notes that the bow stands so again.
func (w *walker) putBack() {
	w.toBow()
	w.h.press("put it back")
	setup := w.b.at("/setups/([0-9a-f-]{36})/putback")
	w.b.see("what to change from the bow as it now reads")
	if pages := pdfPages(w.n, "/sheets/putback/"+setup+".pdf?paper=A4"); pages != 1 {
		w.b.t.Errorf("the list of what to put back has %d pages, wanted 1", pages)
	}
	w.h.press("The bow is set so again")
	w.b.at("/bows/(" + w.bow + ")")
	w.b.see("Put back: rough set-up by the book")
	w.stands(map[string]float64{"/brace_height/value": 0.22, "/string/twists": 22, "/nocking_point/value": 0.008})
}

// explain reads the page for the archer and its sheet, and at the end of the job
// prints the sheet of the bow.
func (w *walker) explain() {
	w.toBow()
	w.h.press("What brace height does")
	w.b.long("For one centimetre more brace height")
	w.h.press("Sheet to print")
	w.b.long("PDF, A4")
	if pages := w.b.printed("explain"); pages != 1 {
		w.b.t.Errorf("the explanation prints on %d pages", pages)
	}
	w.h.press("To the bow")
	w.h.press("Sheet of the set-up")
	one(w.n, w.b, "setup", w.b.at("/sheets/setup/([0-9a-f-]{36})"))
}
