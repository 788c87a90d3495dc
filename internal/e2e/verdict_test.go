package e2e

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strings"

	"github.com/chromedp/chromedp"
)

// trialView is the part of a trial's view that the test reads.
type trialView struct {
	Stops []struct {
		State string `json:"state"`
		Plan  struct {
			Number int `json:"number"`
			Brace  struct {
				SI float64 `json:"si"`
			} `json:"brace_height"`
		} `json:"plan"`
		Readings []readingView `json:"readings"`
	} `json:"stops"`
	Events []struct {
		What string `json:"what"`
		Stop *int   `json:"stop"`
	} `json:"events"`
}

type readingView struct {
	Reading struct {
		ID    string  `json:"id"`
		Kind  string  `json:"kind"`
		Value float64 `json:"value"`
		Text  string  `json:"text"`
		Stop  *int    `json:"stop"`
	} `json:"reading"`
}

// rows is a list of the API.
type rows[T any] struct {
	Rows []T `json:"rows"`
}

// expected reads off the page what the square should read at this stop.
func expected(b *browser) string {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector(".stop strong.num")?.innerText ?? ""`))
	if err != nil || text == "" {
		b.t.Fatalf("the stop says no expected brace height: %q, %v", text, err)
	}
	return text
}

// setValue replaces a field's text the way a hand does: mark all, type.
func setValue(name, text string) chromedp.Action[chromedp.Void] {
	field := chromedp.CSS(fmt.Sprintf("[name=%q]", name))
	return chromedp.Steps(
		chromedp.Focus(field, chromedp.NodeVisible),
		chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := chromedp.Evaluate[bool](fmt.Sprintf(`(document.querySelector('[name="%s"]').select(), true)`, name))(ctx, t)
			return err
		}),
		chromedp.SendKeys(field, text),
	)
}

// typeUpRest types the other stops as from a pencil card, each as the model
// expects it; it gives how many stops the trial has.
func typeUpRest(n *notebook, b *browser, trial string) int {
	b.t.Helper()
	var v trialView
	n.get("/trials/"+trial, &v)
	b.tap("Card")
	b.see("Only the brace height is needed")
	for i, s := range v.Stops {
		if s.State == "measured" {
			continue
		}
		b.fill(fmt.Sprintf("Stop %d, read", s.Plan.Number), fmt.Sprintf("%.1f mm", 1e3*s.Plan.Brace.SI))
		b.fill(fmt.Sprintf("Stop %d, speed", s.Plan.Number), fmt.Sprintf("%d fps", 186-i))
	}
	b.accessible("the card")
	b.shot("card")
	b.tap("Note the card")
	b.see(fmt.Sprintf("%d stops noted", len(v.Stops)-2))
	return len(v.Stops)
}

// verdict reads the answer, in words before pictures, and keeps it. A trial of
// one shot a stop cannot show a spot: anything else would be invented.
func verdict(b *browser) {
	b.t.Helper()
	b.tap("To the verdict")
	b.see("What would change this")
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector("[aria-label=Verdict]").innerText`))
	if err != nil {
		b.t.Fatal(err)
	}
	for _, claim := range []string{"Lively\n", "Settled\n"} {
		if strings.Contains(text, claim) {
			b.t.Errorf("a spot is claimed from one shot a stop: %s", text)
		}
	}
	b.shot("verdict")
	b.tap("Keep this verdict")
	b.see("is kept in the notebook")
}

// choose makes the next set-up from one of the brace heights, knowing what it
// makes stale.
func choose(n *notebook, b *browser, bow string) string {
	b.t.Helper()
	b.do("open a choice", calm(), chromedp.Click(chromedp.CSS(".choices li:nth-child(3) .pick-one"), chromedp.NodeVisible))
	b.see("It would make stale")
	b.accessible("the verdict")
	b.shot("choice")
	b.fill("reason", "steady on the square")
	b.do("choose", calm(), chromedp.Click(`//button[starts-with(normalize-space(.), "Choose ")]`, chromedp.NodeVisible))
	b.at("/bows/(" + bow + ")")
	b.see("steady on the square")
	b.shot("bow-after")
	var v struct {
		SetUp struct {
			SetUp struct {
				ID     string `json:"id"`
				Reason string `json:"reason"`
				Parent string `json:"parent"`
			} `json:"setup"`
		} `json:"setup"`
	}
	n.get("/bows/"+bow, &v)
	if v.SetUp.SetUp.Parent == "" || v.SetUp.SetUp.Reason != "steady on the square" {
		b.t.Errorf("the bow's set-up is %+v; wanted the one chosen", v.SetUp.SetUp)
	}
	return v.SetUp.SetUp.ID
}

// sheets prints every sheet, reached by the links a person follows, from the
// browser and as the program's own PDF: each is one page.
func sheets(n *notebook, b *browser, trial, setup string) {
	b.t.Helper()
	b.tap("Sheet")
	one(n, b, "setup", setup)
	for kind, link := range map[string]string{"plan": "Pencil card", "trial": "Sheet of this trial"} {
		b.open(n.url("/trials/" + trial + "?view=stops"))
		b.tap(link)
		one(n, b, kind, trial)
	}
}

func one(n *notebook, b *browser, kind, id string) {
	b.t.Helper()
	b.at("/sheets/" + kind + "/(" + id + ")")
	b.see("PDF, A4")
	b.do("see the sheet", chromedp.WaitVisible(chromedp.CSS("article.sheet")))
	b.accessible("the " + kind + " sheet")
	b.shot("sheet-" + kind)
	if pages := b.printed("sheet-" + kind); pages != 1 {
		b.t.Errorf("the %s sheet prints on %d pages, wanted 1", kind, pages)
	}
	for _, paper := range []string{"A4", "Letter"} {
		if pages := pdfPages(n, "/sheets/"+kind+"/"+id+".pdf?paper="+paper); pages != 1 {
			b.t.Errorf("the %s sheet's own PDF has %d pages on %s, wanted 1", kind, pages, paper)
		}
	}
}

func pdfPages(n *notebook, path string) int {
	n.t.Helper()
	res, err := http.Get(n.url(path))
	if err != nil {
		n.t.Fatal(err)
	}
	pdf, err := io.ReadAll(res.Body)
	if closing := res.Body.Close(); err != nil || closing != nil || res.Header.Get("Content-Type") != "application/pdf" {
		n.t.Fatalf("GET %s: %s, %v, %v", path, res.Header.Get("Content-Type"), err, closing)
	}
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
}

// counts holds the notebook against what was typed: everything once.
func counts(n *notebook, bow, trial string, stops, sounds int) {
	n.t.Helper()
	var v trialView
	n.get("/trials/"+trial, &v)
	kinds := map[string]int{}
	for i, s := range v.Stops {
		braces := 0
		for _, r := range s.Readings {
			kinds[r.Reading.Kind]++
			if r.Reading.Kind == "brace_height" {
				braces++
			}
		}
		if s.State != "measured" || braces != 1 {
			n.t.Errorf("stop %d is %s with %d brace heights; wanted measured, 1", i, s.State, braces)
		}
	}
	// Two speeds at the first stop, none at the second, one at each other.
	for kind, want := range map[string]int{"brace_height": stops, "speed": stops, "feel": 2} {
		if kinds[kind] != want {
			n.t.Errorf("%d readings of %s in the notebook, %d were typed", kinds[kind], kind, want)
		}
	}
	reached := map[int]int{}
	for _, e := range v.Events {
		if e.What == "reached" {
			reached[*e.Stop]++
		}
	}
	for i := range stops {
		if reached[i] != 1 {
			n.t.Errorf("stop %d was reached %d times in the notebook, wanted once", i, reached[i])
		}
	}
	var recordings, verdicts, setups rows[struct{}]
	n.get("/recordings?trial="+trial, &recordings)
	n.get("/trials/"+trial+"/verdicts", &verdicts)
	n.get("/bows/"+bow+"/setups", &setups)
	if len(recordings.Rows) != sounds || len(verdicts.Rows) != 1 || len(setups.Rows) != 2 {
		n.t.Errorf("%d recordings, %d verdicts, %d set-ups; wanted %d, 1, 2", len(recordings.Rows), len(verdicts.Rows), len(setups.Rows), sounds)
	}
}
