package e2e

import "testing"

// D4: a page that has nothing to ask asks all the same whether the notebook is
// back, every five seconds while it is in sight.
func TestPageFindsTheNotebookAgain(t *testing.T) {
	t.Parallel()
	n, b := openDemo(t), openBrowser(t)
	b.size(390, 844)
	b.open(n.url("/help"))
	b.see("connected")
	asked := b.promised("while nothing answers", `new Promise((done) => {
		const was = window.fetch, over = (how) => { window.fetch = was; done(how); };
		window.fetch = (what, ...rest) => {
			if (!String(what).includes("/api/")) return was(what, ...rest);
			if (String(what).endsWith("/health")) over((rest[0]?.signal ? "asked" : "asked, and waits for ever") + [...document.querySelectorAll("aside.where .down, aside.where .num")].filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => ", cut off is " + e.innerText).join(""));
			return Promise.reject(new TypeError("cut"));
		};
		dispatchEvent(new Event("offline"));
		setTimeout(() => over("nothing in 20 s"), 20_000);
	})`)
	if asked != "asked" {
		t.Error(asked)
	}
	b.shot("no-answer")
	b.do("it is connected again", waitFor(`!document.querySelector("[data-link=down]")`))
	b.fault()
}
