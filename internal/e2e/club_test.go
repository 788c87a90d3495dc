package e2e

import (
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

const clubPassword = "quilt harbour sixteen lanterns"

// joining is the link that lets somebody in.
var joining = regexp.MustCompile(`/join#[\w-]+`)

// TestClub takes a notebook of several people through a browser: the owner
// comes in by the first link, invites an archer, who comes in, shares, and logs
// in again; a page that needs a login keeps its address.
func TestClub(t *testing.T) {
	n, b := openNotebook(t, "--accounts"), openBrowser(t)
	link := joining.FindString(n.said.String())
	if link == "" {
		t.Fatalf("the first start printed no link:\n%s", n.said.String())
	}
	b.size(390, 844)
	b.open(n.url("/bows/new"))
	b.see("This notebook belongs to several people")
	b.accessible("the login")
	b.shot("login")
	code := comesIn(b, n.url(link), "Ida Falk", "ida")
	b.tap("I have it")
	b.see("Enter")
	b.open(n.url("/people"))
	b.see("Ida Falk (you)")
	b.tap("Make a link")
	b.see("Give this link to that person alone")
	b.fits("people")
	b.accessible("people")
	b.shot("people")
	invited := text(b, "form + .note .code")
	logsOut(n, b)
	comesIn(b, invited, "Ben Osei", "ben")
	b.tap("I have it")
	b.open(n.url("/people"))
	b.see("Ida Falk")
	b.tap("Share")
	b.see("may see all bows of you")
	b.open(n.url("/account"))
	b.see("You are logged in as")
	b.accessible("the account")
	b.fits("the account")
	b.shot("account")
	secret := secondFactor(n, b)
	logsOut(n, b)
	logsIn(b, "ben")
	b.see("Code of your authenticator app")
	b.accessible("the code at login")
	b.shot("second factor at login")
	typeInto(b, `input[name="code"]`, appCode(t, secret, 1))
	b.tap("Log in")
	b.open(n.url("/account"))
	erased(n, b)
	logsOut(n, b)
	b.size(1366, 768)
	b.open(n.url("/people/log"))
	logsIn(b, "ida")
	b.see("Who did what")
	b.see("POST /join")
	b.accessible("the log")
	b.shot("log")
	logsOut(n, b)
	b.open(n.url("/recover"))
	recovers(b, code)
	b.fault()
}

// comesIn follows a link and gives the recovery code.
func comesIn(b *browser, link, name, login string) string {
	b.t.Helper()
	b.open(link)
	b.see("Choose how you log in")
	fields(b, name, login, clubPassword)
	b.accessible("coming in")
	b.tap("Come in")
	b.see("Write this code down")
	b.accessible("the code")
	if b.path() != "/join" {
		b.t.Errorf("the address is %s", b.path())
	}
	return text(b, ".code")
}

// fields types into the form's fields in order.
func fields(b *browser, texts ...string) {
	b.t.Helper()
	for i, s := range texts {
		field := chromedp.JSPath(`document.querySelectorAll("main form input")[` + string(rune('0'+i)) + `]`)
		b.do("type", chromedp.Focus(field, chromedp.NodeVisible), chromedp.SendKeys(field, s))
	}
}

func logsIn(b *browser, login string) {
	b.t.Helper()
	b.see("This notebook belongs to several people")
	fields(b, login, clubPassword)
	b.tap("Log in")
}

func logsOut(n *notebook, b *browser) {
	b.t.Helper()
	b.open(n.url("/account"))
	b.see("You are logged in as")
	b.tap("Log out")
	b.see("This notebook belongs to several people")
}

// secondFactor sets one up and gives its secret.
func secondFactor(n *notebook, b *browser) string {
	b.t.Helper()
	b.tap("Set it up")
	b.see("Your password once more")
	b.accessible("the password once more")
	typeInto(b, `main section form input[type="password"]`, clubPassword)
	b.tap("Go on")
	b.see("Scan this with an authenticator app")
	b.fits("the second factor")
	b.accessible("the second factor")
	b.shot("second factor")
	secret := strings.ReplaceAll(text(b, "ol .code"), " ", "")
	typeInto(b, `main section form input[inputmode="numeric"]`, appCode(b.t, secret, 0))
	b.tap("Turn it on")
	b.see("Print these codes")
	b.accessible("the printed codes")
	b.shot("printed codes")
	b.tap("I have them")
	b.see("Printed codes left: 8")
	return secret
}

// erased takes along what is one's own, and goes.
func erased(n *notebook, b *browser) {
	b.t.Helper()
	b.see("What is yours")
	b.tap("Leave, and be erased")
	b.see("This takes out for good")
	b.fits("leaving")
	b.accessible("leaving")
	b.shot("leaving")
	typeInto(b, `main details form input`, "Ben Osei")
	b.tap("Erase for good")
	b.see("Your password once more")
	b.tap("Leave it")
	b.see("Type the name to be sure")
}

func typeInto(b *browser, selector, text string) {
	b.t.Helper()
	field := chromedp.CSS(selector)
	b.do("type into "+selector, chromedp.Focus(field, chromedp.NodeVisible), chromedp.SendKeys(field, text))
}

// appCode is what an authenticator app shows so many steps from now (RFC 6238).
func appCode(t testing.TB, secret string, later int64) string {
	t.Helper()
	key, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil {
		t.Fatal(err)
	}
	mac := hmac.New(sha1.New, key)
	_ = binary.Write(mac, binary.BigEndian, time.Now().Unix()/30+later)
	sum := mac.Sum(nil)
	return fmt.Sprintf("%06d", (binary.BigEndian.Uint32(sum[sum[19]&15:])&0x7fffffff)%1000000)
}

// recovers replaces the password by the printed code.
func recovers(b *browser, code string) {
	b.t.Helper()
	b.see("Lost password")
	fields(b, "ida", strings.ToLower(code), "nine umbrellas under marble")
	b.tap("Set the new password")
	b.see("Write this code down")
	if fresh := text(b, ".code"); fresh == code || len(fresh) < 24 {
		b.t.Errorf("the new code is %q, the old was %q", fresh, code)
	}
}

// text is what an element says.
func text(b *browser, selector string) string {
	b.t.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.querySelector(`+"`"+selector+"`"+`)?.innerText ?? ""`))
	if err != nil {
		b.t.Fatal(err)
	}
	return strings.TrimSpace(s)
}
