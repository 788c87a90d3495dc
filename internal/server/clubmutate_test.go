package server_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/internal/server"
)

// The club's own routes take damaged requests as the archer's do (U5): never a
// fault of ours, every refusal a whole problem with a page that explains its
// code. Whoever is thrown out by one of them logs in again; the clock runs, so
// that nobody is merely too fast.
func TestMutatedClubRequests(t *testing.T) {
	var moments atomic.Int64
	c := openClub(t, func(c *server.Config) {
		c.Now = func() time.Time { return time.Now().Add(time.Duration(moments.Add(1)) * 20 * time.Millisecond) }
	})
	clubStory(c)
	dice := rand.New(rand.NewPCG(5, 5))
	codes, done, byStatus, refused := map[string]bool{}, map[string]int{}, map[int]int{}, 0
	each := max(4, *mutations/4)
	for _, e := range c.told {
		method, _, _ := strings.Cut(e.operation, " ")
		for ; done[e.operation] < each; done[e.operation]++ {
			path, body := e.path, e.body
			if body == nil || dice.IntN(4) == 0 {
				path = mutatePath(dice, path)
			} else {
				body = mutateBody(dice, body)
			}
			who := []string{"ann", "ben", "coach", "nobody", "owner"}[dice.IntN(5)]
			r := c.as[who].do(method, path, body, mutateHeaders(dice)...)
			if r.status >= 500 && r.status != 501 {
				t.Fatalf("%s as %s %.300s: %d %s\nbody: %.500s", method, who, path, r.status, r.body, fmt.Sprint(body))
			}
			if r.status == 401 && who != "nobody" {
				c.returns(who)
			}
			if r.status >= 400 {
				refused++
				byStatus[r.status]++
				codes[fmt.Sprint(r.at("code"))] = true
			}
		}
	}
	for code := range codes {
		c.as["nobody"].do("GET", "/help/errors/"+code, nil).want(200)
	}
	sent := 0
	for _, n := range done {
		sent += n
	}
	if refused < sent/4 || len(codes) < 5 || byStatus[401] > sent/2 {
		t.Errorf("only %d of %d were refused, with codes %v: too tame to test anything", refused, sent, codes)
	}
	if got := c.as["nobody"].do("GET", "/api/v1/health", nil).at("panics"); got != 0.0 {
		t.Errorf("%v panics were caught", got)
	}
	t.Logf("%d damaged requests for %d operations, %d refused, with %d codes: %v", sent, len(done), refused, len(codes), byStatus)
}

// returns logs someone in again, with the password that the story left them.
func (c *clubSite) returns(who string) {
	c.t.Helper()
	for _, password := range []string{goodPassword, goodPassword + " nine"} {
		if r := c.as["nobody"].do("POST", "/api/v1/login", obj{"login": who, "password": password}); r.status == 200 {
			c.as[who] = c.session(r)
			return
		}
	}
}
