//go:build unix

package drill

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"tautline/notebook"
)

// Load asks a program at times that are fixed beforehand, whether it answers
// or not, and measures each answer from the time at which it was to be asked:
// a slow program cannot slow down those who want something of it
// ("coordinated omission", k6's open model, bars.md T22).
type Load struct {
	Program *Program
	Archers []Archer

	client *http.Client
	mu     sync.Mutex
	dice   *rand.Rand
	acked  map[string][]string // ids by table
}

// NewLoad prepares a load.
func NewLoad(p *Program, archers []Archer, dice *rand.Rand) *Load {
	return &Load{
		Program: p, Archers: archers, dice: dice, acked: map[string][]string{},
		client: &http.Client{Timeout: 30 * time.Second, Transport: &http.Transport{MaxIdleConnsPerHost: 1000, DialContext: p.Dial}},
	}
}

// Figures are what came of a load.
type Figures struct {
	mu      sync.Mutex
	Codes   map[int]int // 0: no answer
	took    []time.Duration
	refused []time.Duration
	held    []time.Duration // answers that may wait for something to be computed
	byWhat  map[string][]time.Duration
	Errors  []string // answers that should not be, the first few
}

// Planned is how many answers were wanted.
func (f *Figures) Planned() (n int) {
	for _, c := range f.Codes {
		n += c
	}
	return n
}

// Shed is how many were refused because there was too much to do.
func (f *Figures) Shed() int { return f.Codes[429] + f.Codes[503] }

// at gives the q-th quantile: the largest answer that a share q of the others is
// not above, so that of fewer than a hundred one may be late for 99 in 100.
func at(list []time.Duration, q float64) time.Duration {
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	return list[int(q*float64(len(list)-1))].Round(100 * time.Microsecond)
}

// P99 is of the accepted requests.
func (f *Figures) P99() time.Duration { return at(f.took, 0.99) }

func (f *Figures) String() string {
	out := fmt.Sprintf("%d asked: p50 %v, p99 %v, p99.9 %v, worst %v; answers %v", f.Planned(), at(f.took, 0.5), at(f.took, 0.99), at(f.took, 0.999), at(f.took, 1), f.Codes)
	if len(f.refused) > 0 {
		out += fmt.Sprintf("; refusals p50 %v, p99 %v, worst %v", at(f.refused, 0.5), at(f.refused, 0.99), at(f.refused, 1))
	}
	return out
}

// ByWhat tells the slowest kinds of request.
func (f *Figures) ByWhat() string {
	kinds := slices.Collect(maps.Keys(f.byWhat))
	slices.SortFunc(kinds, func(a, b string) int { return int(at(f.byWhat[b], 0.99) - at(f.byWhat[a], 0.99)) })
	var out []string
	for _, k := range kinds {
		out = append(out, fmt.Sprintf("%s p50 %v p99 %v (%d)", k, at(f.byWhat[k], 0.5), at(f.byWhat[k], 0.99), len(f.byWhat[k])))
	}
	return strings.Join(out, "\n  ")
}

// ask is one request of the mix.
type ask struct {
	what, method, path string
	body               any
	table, id          string // what it makes
	held               bool   // the answer may wait for something to be computed
}

// Run asks at a rate per second for some time, and waits for the last answer.
func (l *Load) Run(ctx context.Context, rate float64, length time.Duration) *Figures {
	f := &Figures{Codes: map[int]int{}, byWhat: map[string][]time.Duration{}}
	begun := time.Now()
	var group sync.WaitGroup
	for due := time.Duration(0); due < length && ctx.Err() == nil; due += l.gap(rate) {
		planned := begun.Add(due)
		time.Sleep(time.Until(planned))
		a, who := l.next()
		group.Go(func() { l.one(ctx, a, who, planned, f) })
	}
	group.Wait()
	return f
}

// gap is the time to the next request: people do not take turns.
func (l *Load) gap(rate float64) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	return time.Duration(l.dice.ExpFloat64() / rate * float64(time.Second))
}

func (l *Load) one(ctx context.Context, a ask, who Archer, planned time.Time, f *Figures) {
	status, retry, text, err := l.send(ctx, a, who)
	took := time.Since(planned)
	if a.table != "" && (status == 200 || status == 201) {
		l.mu.Lock()
		l.acked[a.table] = append(l.acked[a.table], a.id)
		l.mu.Unlock()
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.Codes[status]++
	switch {
	case a.held && status == 200:
		f.held = append(f.held, took)
		f.byWhat[a.what] = append(f.byWhat[a.what], took)
	case status == 200 || status == 201:
		f.took = append(f.took, took)
		f.byWhat[a.what] = append(f.byWhat[a.what], took)
	case (status == 429 || status == 503) && retry != "":
		f.refused = append(f.refused, took)
		what := fmt.Sprintf("refused with %d", status)
		f.byWhat[what] = append(f.byWhat[what], took)
	case len(f.Errors) < 5:
		f.Errors = append(f.Errors, fmt.Sprintf("%s %s: %d %v %.200s", a.method, a.path, status, err, text))
	}
}

func (l *Load) send(ctx context.Context, a ask, who Archer) (status int, retry string, text []byte, err error) {
	var body io.Reader
	if a.body != nil {
		body = bytes.NewReader(compact(a.body))
	}
	r, err := http.NewRequestWithContext(ctx, a.method, l.Program.URL()+a.path, body)
	if err != nil {
		return 0, "", nil, err
	}
	r.Header.Set("Authorization", "Bearer "+who.Token)
	if a.body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	answer, err := l.client.Do(r)
	if err != nil {
		return 0, "", nil, err
	}
	defer answer.Body.Close()
	text, err = io.ReadAll(answer.Body)
	if err != nil {
		return 0, "", nil, err
	}
	return answer.StatusCode, answer.Header.Get("Retry-After"), text, nil
}

// atOnce is how many of the archers are at the range at one time.
const atOnce = 30

// next makes up a request: what thirty people at a range ask of a notebook.
func (l *Load) next() (ask, Archer) {
	l.mu.Lock()
	defer l.mu.Unlock()
	who := l.Archers[l.dice.IntN(min(atOnce, len(l.Archers)))]
	bow, setup := string(who.Bow), string(who.SetUp)
	session := string(who.Sessions[l.dice.IntN(len(who.Sessions))])
	id := string(notebook.NewID())
	made := func(noun string, body obj) ask {
		return ask{what: "put " + noun, method: "PUT", path: "/api/v1/" + noun + "/" + id, body: body, table: noun, id: id}
	}
	if l.dice.IntN(100) < 5 {
		return l.club()
	}
	switch k := l.dice.IntN(100); {
	case k < 22:
		return made("ends", obj{"bow": bow, "setup": setup, "session": session, "number": 1, "distance": "70 m", "face": "122", "impacts": []obj{
			{"x_m": 0.1 * l.dice.NormFloat64(), "y_m": 0.02}, {"x_m": -0.03, "y_m": 0.1 * l.dice.NormFloat64()}, {"ring": "7"}}}), who
	case k < 34:
		return made("readings", obj{"bow": bow, "setup": setup, "kind": "nocking_point", "text": fmt.Sprint(5+l.dice.IntN(10), " mm")}), who
	case k < 37:
		return made("sessions", obj{"bow": bow, "place": "club hall"}), who
	case k < 50:
		return ask{what: "the page itself", method: "GET", path: "/"}, who
	case k < 62:
		return ask{what: "bow", method: "GET", path: "/api/v1/bows/" + bow}, who
	case k < 70:
		return ask{what: "bench", method: "GET", path: "/api/v1/bows"}, who
	case k < 78:
		return ask{what: "ends of a session", method: "GET", path: "/api/v1/ends?session=" + session}, who
	case k < 84:
		return ask{what: "session", method: "GET", path: "/api/v1/sessions/" + session}, who
	case k < 89:
		return ask{what: "readings of a bow", method: "GET", path: "/api/v1/readings?limit=50&bow=" + bow}, who
	case k < 93:
		return ask{what: "group of a session", method: "POST", path: "/api/v1/groups/describe", body: obj{"session": session}}, who
	case k < 96:
		return ask{what: "read a text", method: "POST", path: "/api/v1/units/parse", body: obj{"quantity": "setting", "field": "brace_height", "text": "8 3/4 in"}}, who
	case k < 98:
		return ask{what: "me", method: "GET", path: "/api/v1/me"}, who
	default:
		return ask{what: "predict", method: "POST", path: "/api/v1/predict", body: obj{"setup": setup}, held: true}, who
	}
}

// club makes up a request of who looks after many: the owner, who sees every
// bow, and the coach of thirty archers.
func (l *Load) club() (ask, Archer) {
	owner, coach := l.Archers[0], l.Archers[min(1, len(l.Archers)-1)]
	theirs := l.Archers[l.dice.IntN(min(2+looksAfter, len(l.Archers)))]
	if theirs.Person == owner.Person {
		theirs = coach
	}
	switch l.dice.IntN(6) {
	case 0:
		return ask{what: "bench of an owner", method: "GET", path: "/api/v1/bows"}, owner
	case 1:
		return ask{what: "people", method: "GET", path: "/api/v1/people"}, owner
	case 2:
		return ask{what: "bench of a coach", method: "GET", path: "/api/v1/bows"}, coach
	case 3:
		return ask{what: "week of a coach", method: "GET", path: "/api/v1/week", held: true}, coach
	case 4:
		return ask{what: "standing of a bow", method: "GET", path: "/api/v1/bows/" + string(theirs.Bow) + "/standing", held: true}, coach
	default:
		return ask{what: "observed of a bow", method: "GET", path: "/api/v1/bows/" + string(theirs.Bow) + "/observed"}, coach
	}
}

// Missing looks for everything acknowledged in the database itself.
func (l *Load) Missing(ctx context.Context, c *Counted) (missing []string, acked int, err error) {
	for table, ids := range l.acked {
		acked += len(ids)
		for chunk := range slices.Chunk(ids, 500) {
			there, err := c.present(ctx, table, chunk)
			if err != nil {
				return nil, acked, err
			}
			for _, id := range chunk {
				if !there[id] {
					missing = append(missing, table+" "+id)
				}
			}
		}
	}
	return missing, acked, nil
}
