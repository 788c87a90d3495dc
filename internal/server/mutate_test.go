package server_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/url"
	"slices"
	"strings"
	"testing"
)

var mutations = flag.Int("mutations", 200, "mutated requests for each operation that computes nothing long")

// computing operations that may run the model; fewer mutations of them keep
// the suite short, and -mutations raises these too.
var computing = []string{"POST /api/v1/predict", "POST /api/v1/sweep", "POST /api/v1/setups/check", "POST /api/v1/trials/plan",
	"PUT /api/v1/fits/{id}", "POST /api/v1/bows/{id}/whatif", "POST /api/v1/bows/{id}/advice", "GET /api/v1/bows/{id}/fit",
	"POST /api/v1/target", "POST /api/v1/target/quick", "POST /api/v1/shafts", "POST /api/v1/sightmarks",
	"PUT /api/v1/trials/{id}", "POST /api/v1/trials/{id}/verdict", "PUT /api/v1/trials/{id}/verdicts/{verdict}",
	"GET /api/v1/trials/{id}/verdicts", "PUT /api/v1/trials/{id}/choices/{setup}", "GET /api/v1/sheets/{kind}/{id}"}

// hostile makes a value that breaks careless programs, new each time so that no
// tree holds itself.
func hostile(rng *rand.Rand) any {
	values := []any{
		nil, "", " ", "NaN", "1e999", "-0", "8 3/0 in", "44 apples", strings.Repeat("9", 5000), strings.Repeat("ä", 30000),
		"\x00", "\u202e", "'; DROP TABLE bows; --", "<script>alert(1)</script>", "../../etc/passwd", "=1+1", "\x1b[31m", "%s%n",
		0, -1, 1e308, -1e308, 0.5, 1 << 53, true, false, []any{}, []any{nil}, []any{[]any{[]any{}}}, obj{}, obj{"": ""}, obj{"a": obj{"b": obj{}}},
		"01a212fb-4afb-7b15-adaa-6a8d381ddb66", "00000000-0000-0000-0000-000000000000", "2026-13-45T99:00:00Z",
	}
	return values[rng.IntN(len(values))]
}

// checkMutated sends damaged variants of every request of the story: never a
// fault of ours (5xx other than 501 "not offered"), and every refusal a whole
// problem, which do checks (U5: ≥ 200 mutated requests an operation, 0 × 5xx,
// 100 % valid).
func checkMutated(t *testing.T, s *site, told []exchange) {
	rng := rand.New(rand.NewPCG(1, 2))
	done := map[string]int{}
	refused := 0
	for _, e := range told {
		n := *mutations
		if slices.Contains(computing, e.operation) {
			n /= 20
		}
		if e.operation == "POST /api/v1/forgiveness" {
			n /= 100 // a second each
		}
		for ; done[e.operation] < n; done[e.operation]++ {
			method, _, _ := strings.Cut(e.operation, " ")
			path, body := e.path, e.body
			if body == nil || rng.IntN(4) == 0 {
				path = mutatePath(rng, path)
			} else {
				body = mutateBody(rng, body)
			}
			r := s.do(method, path, body, mutateHeaders(rng)...)
			if r.status >= 500 && r.status != 501 {
				t.Fatalf("%s %.300s: %d %s\nbody: %.500s", method, path, r.status, r.body, fmt.Sprint(body))
			}
			if r.status >= 400 {
				refused++
			}
		}
	}
	sent := 0
	for _, n := range done {
		sent += n
	}
	t.Logf("%d mutated requests for %d operations, %d refused", sent, len(done), refused)
	if refused < sent/4 {
		t.Errorf("only %d of %d were refused: the mutations are too tame to test anything", refused, sent)
	}
	if got := s.do("GET", "/api/v1/health", nil).at("panics"); got != 0.0 {
		t.Errorf("%v panics were caught", got)
	}
}

func mutateHeaders(rng *rand.Rand) []string {
	switch rng.IntN(12) {
	case 0:
		return []string{"If-Match", []string{"*", `"1"`, `"99"`, "x", `W/"1"`}[rng.IntN(5)]}
	case 1:
		return []string{"Accept", []string{"text/html", "application/xml", "", "*/*;q=0", "x"}[rng.IntN(5)]}
	case 2:
		return []string{"Content-Type", []string{"text/plain", "application/json; charset=x", "application/cbor"}[rng.IntN(3)]}
	case 3:
		return []string{"Range", []string{"bytes=0-", "bytes=999999999-", "bytes=-5", "lines=1", "bytes=5-1"}[rng.IntN(5)]}
	}
	return nil
}

// mutatePath damages one part of an address or adds a parameter.
func mutatePath(rng *rand.Rand, path string) string {
	bare, query, _ := strings.Cut(path, "?")
	parts := strings.Split(bare, "/")
	weird := []string{"x", "..", "%2e%2e", "%00", "a b", "ä", "0", "-1", "01a212fb-4afb-7b15-adaa-6a8d381ddb66",
		"01A212FB-4AFB-7B15-ADAA-6A8D381DDB66", "00000000-0000-4000-8000-000000000000", strings.Repeat("a", 3000), "'--", "null"}
	switch rng.IntN(3) {
	case 0:
		i := 3 + rng.IntN(max(1, len(parts)-3))
		if i < len(parts) {
			parts[i] = url.PathEscape(weird[rng.IntN(len(weird))])
		}
	case 1:
		names := []string{"bow", "setup", "session", "trial", "after", "limit", "retracted", "archived", "nonsense"}
		query += "&" + names[rng.IntN(len(names))] + "=" + url.QueryEscape(weird[rng.IntN(len(weird))])
	case 2:
		query += "&" + url.QueryEscape(weird[rng.IntN(len(weird))])
	}
	return strings.Join(parts, "/") + "?" + strings.TrimPrefix(query, "&")
}

// mutateBody damages one place of a body, or the whole text.
func mutateBody(rng *rand.Rand, body any) any {
	if raw, ok := body.([]byte); ok {
		return raw[:rng.IntN(min(len(raw), 2000))]
	}
	text, err := json.Marshal(body)
	if err != nil {
		return body
	}
	switch rng.IntN(8) {
	case 0:
		return string(text[:rng.IntN(len(text))]) // broken off
	case 1:
		at := rng.IntN(len(text))
		return string(text[:at]) + string(rune(rng.IntN(0x250))) + string(text[at:])
	case 2:
		return []string{"", "null", "[]", "{}", `"x"`, "1", "{}{}", strings.Repeat("[", 20000), `{"a":1e999}`, "\xff\xfe"}[rng.IntN(10)]
	}
	var tree any
	if err := json.Unmarshal(text, &tree); err != nil {
		return body
	}
	for range 1 + rng.IntN(3) {
		tree = damage(rng, tree)
	}
	return tree
}

// damage changes one place somewhere in the tree.
func damage(rng *rand.Rand, node any) any {
	switch n := node.(type) {
	case map[string]any:
		if len(n) == 0 || rng.IntN(8) == 0 {
			n[[]string{"nonsense", "Name", "brace_hight", ""}[rng.IntN(4)]] = hostile(rng)
			return n
		}
		keys := slices.Sorted(maps.Keys(n))
		key := keys[rng.IntN(len(keys))]
		if rng.IntN(6) == 0 {
			delete(n, key)
			return n
		}
		n[key] = damage(rng, n[key])
		return n
	case []any:
		if len(n) > 0 && rng.IntN(2) == 0 {
			i := rng.IntN(len(n))
			n[i] = damage(rng, n[i])
			return n
		}
	}
	return hostile(rng)
}
