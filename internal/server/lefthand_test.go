package server_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// archersJob is one archer's job in the notebook, from the set-up to the
// sheets. Every place sideways that the archer notes is flip times the same.
type archersJob struct {
	s          *site // as the archer
	coach      *site // who reads along
	flip       float64
	bow, first string
	now        string // the set-up after the change
	trials     map[string]string
}

// sideways is a place sideways as the archer would type it.
func (j *archersJob) sideways(cm float64) string { return fmt.Sprintf("%.1f cm", j.flip*cm) }

// does enters a bow, shoots and reads with it, and changes it.
func (j *archersJob) does(rng *rand.Rand) {
	j.bow, j.first, j.now, j.trials = id(), id(), id(), map[string]string{}
	set := settings()
	set["centre_shot"], set["button"] = "1.5 mm", obj{"spring": "medium", "turns": 2}
	j.s.do("PUT", "/api/v1/bows/"+j.bow, obj{"name": "Heron 70", "style": "recurve"}).want(201)
	j.s.do("PUT", "/api/v1/setups/"+j.first, obj{"bow": j.bow, "reason": "first", "settings": set}).want(201)
	bare, up := 4+6*rng.Float64(), 1.5-3*rng.Float64()
	for _, r := range []obj{
		{"kind": "speed", "text": "57.3 m/s"},
		{"kind": "bare_shaft_right", "text": j.sideways(bare), "distance": "30 m"},
		{"kind": "group_centre_right", "text": j.sideways(-2.5), "distance": "70 m"},
		{"kind": "bare_shaft_up", "text": fmt.Sprintf("%.1f cm", up), "distance": "30 m"},
	} {
		r["bow"], r["setup"] = j.bow, j.first
		j.s.do("PUT", "/api/v1/readings/"+id(), r).want(201)
	}
	j.shoots(rng.Uint64(), "bare", obj{"what": "bare shaft", "distance": "18", "seed": 7}, bare)
	j.shoots(rng.Uint64(), "walk", obj{"what": "walk-back", "distances": []string{"10 m", "20 m", "30 m", "40 m"}, "seed": 7}, bare)
	j.shoots(rng.Uint64(), "pairs", obj{"what": "two set-ups", "setting": "button", "a": "3 turns", "b": "5 turns", "rounds": 2, "seed": 7}, bare)
	set["centre_shot"], set["button"] = "2.5 mm", obj{"spring": "medium", "turns": 3}
	j.s.do("PUT", "/api/v1/setups/"+j.now, obj{"bow": j.bow, "parent": j.first, "reason": "button in, shaft out", "settings": set}).want(201)
}

// shoots goes through a trial: bare shafts lie bare cm aside of the fletched.
func (j *archersJob) shoots(seed uint64, what string, ask obj, bare float64) {
	rng := rand.New(rand.NewPCG(seed, 1))
	trial := id()
	j.trials[what] = trial
	stops := j.s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": j.first, "ask": ask}).want(201).at("plan/steps").([]any)
	for _, step := range stops {
		far, numbered := 18.0, 0
		if d, ok := step.(obj)["distance_m"].(float64); ok {
			far = d
		}
		var impacts []obj
		for a := range 6 {
			x, y := 0.02*rng.NormFloat64()+0.001*far, 0.02*rng.NormFloat64()
			p := obj{"arrow": fmt.Sprint(a + 1)}
			if what == "bare" && a < 3 {
				x += bare / 100
				p["bare"] = true
				numbered++
			}
			p["x_m"], p["y_m"] = j.flip*x, y
			impacts = append(impacts, p)
		}
		j.s.do("PUT", "/api/v1/ends/"+id(), obj{"bow": j.bow, "setup": j.first, "trial": trial, "stop": step.(obj)["position"], "number": 1, "face": "122",
			"distance": fmt.Sprintf("%g m", far), "impacts": impacts}).want(201)
	}
}

// question is something that is read of an archer's bow.
type question struct {
	what, method string
	path         func(*archersJob) string
	body         func(*archersJob) any
}

// job is everything that is read, page by page and sheet by sheet.
var job = []question{
	{"what-if", "POST", at("/api/v1/target"), func(j *archersJob) any {
		return obj{"setup": j.now, "moves": obj{"centre_shot": "1 mm", "spine": "700"}, "distances": []string{"18 m", "30 m", "70 m"}}
	}},
	{"shafts to try", "POST", at("/api/v1/shafts"), func(j *archersJob) any { return obj{"setup": j.now, "count": 3} }},
	{"bare-shaft verdict", "POST", of("bare", "/api/v1/trials/%s/verdict"), nothing},
	{"walk-back verdict", "POST", of("walk", "/api/v1/trials/%s/verdict"), nothing},
	{"verdict of two set-ups", "POST", of("pairs", "/api/v1/trials/%s/verdict"), nothing},
	{"standing", "GET", func(j *archersJob) string { return "/api/v1/bows/" + j.bow + "/standing" }, nil},
	{"forecasts", "GET", func(j *archersJob) string { return "/api/v1/bows/" + j.bow + "/ledger" }, nil},
	{"groups", "POST", at("/api/v1/groups/describe"), func(j *archersJob) any { return obj{"setup": j.first} }},
	{"side by side", "POST", at("/api/v1/compare"), func(j *archersJob) any { return obj{"first": j.first, "second": j.now} }},
	{"put back", "GET", func(j *archersJob) string { return "/api/v1/setups/" + j.first + "/putback" }, nil},
	{"bow", "GET", func(j *archersJob) string { return "/api/v1/bows/" + j.bow }, nil},
	{"put-back sheet", "GET", func(j *archersJob) string { return "/sheets/putback/" + j.first + ".txt" }, nil},
	{"bare-shaft sheet", "GET", of("bare", "/sheets/trial/%s.txt"), nil},
	{"walk-back sheet", "GET", of("walk", "/sheets/trial/%s.csv"), nil},
	{"comparison sheet", "GET", func(j *archersJob) string { return "/sheets/compare/" + j.first + ".txt?with=" + j.now }, nil},
}

func at(path string) func(*archersJob) string { return func(*archersJob) string { return path } }

func of(trial, path string) func(*archersJob) string {
	return func(j *archersJob) string { return fmt.Sprintf(path, j.trials[trial]) }
}

func nothing(*archersJob) any { return obj{} }

// reads asks as the archer or as the coach, until what takes long is there.
func (j *archersJob) reads(s *site, q question) reply {
	j.s.t.Helper()
	var body any
	if q.body != nil {
		body = q.body(j)
	}
	for range 400 {
		r := s.do(q.method, q.path(j), body).want(200)
		if strings.HasPrefix(q.path(j), "/sheets/") {
			return r
		}
		if state, long := r.tree()["state"]; !long || state == "done" {
			return r
		}
	}
	j.s.t.Fatalf("%s never came", q.what)
	return reply{}
}

// TestLeftHandedJob: two archers do the same job, the left-handed one with every
// place sideways mirrored. What is said of the shaft is the same, weak and stiff
// and every size with its interval; what lies right for the one lies left for
// the other; where the shaft stands out to is named for the hand. A right-handed
// coach reads the left-handed archer's bow in that archer's words, to the letter.
// The mirror is the one of ../shared/design/model.md, Signs (computed); what a
// bare shaft on the right says of a right-handed archer's shaft is common
// practice, no source.
func TestLeftHandedJob(t *testing.T) {
	c := openClub(t)
	rng := uint64(11)
	right, left := &archersJob{s: c.as["ann"], flip: 1}, &archersJob{s: c.as["ben"], coach: c.as["coach"], flip: -1}
	left.s.do("PUT", "/api/v1/shares/"+id(), obj{"with": c.ids["coach"], "may": "work"}).want(201)
	me := left.s.do("GET", "/api/v1/me", nil).want(200)
	left.s.do("PUT", "/api/v1/me", obj{"name": "ann", "hand": "left", "units": "mixed"}, "If-Match", me.header.Get("ETag")).want(200)
	right.does(rand.New(rand.NewPCG(rng, 2)))
	left.does(rand.New(rand.NewPCG(rng, 2)))
	swapped, words := 0, ""
	for _, q := range job {
		began := time.Now()
		a, b := right.reads(right.s, q), left.reads(left.s, q)
		m := &mirror{names: [2]map[string]string{idsOf(right), idsOf(left)}}
		m.compare(a, b)
		for _, fault := range m.faults {
			t.Errorf("%s: %s", q.what, fault)
		}
		swapped += m.swapped
		words += string(a.body)
		t.Logf("%s: %v", q.what, time.Since(began))
		if read := left.reads(left.coach, q); string(read.body) != string(b.body) {
			t.Errorf("%s: the coach reads\n%.3000s\nthe archer reads\n%.3000s", q.what, read.body, b.body)
		}
	}
	if swapped < 15 {
		t.Errorf("only %d sentences change sides", swapped)
	}
	for _, want := range []string{"sideways the arrows act weak", "to the left as you look along the arrow"} {
		if !strings.Contains(words, want) {
			t.Errorf("nothing read says %q", want)
		}
	}
}

// idsOf are the names that differ because they are two archers' records.
func idsOf(j *archersJob) map[string]string {
	out := map[string]string{j.bow: "BOW", j.first: "FIRST", j.now: "NOW"}
	for what, trial := range j.trials {
		out[trial] = what
	}
	return out
}

// mirror compares two archers' answers leaf by leaf.
type mirror struct {
	names   [2]map[string]string
	faults  []string
	swapped int // sentences in which the sides changed
}

var (
	uuids   = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`)
	stamps  = regexp.MustCompile(`\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?( UTC|Z|[+-]\d\d:\d\d)?`)
	numbers = regexp.MustCompile(`[+−-]?\d+(?:\.\d+)?`)
	sides   = regexp.MustCompile(`\b(left|right)\b`)
)

// compare goes through two replies, JSON or text.
func (m *mirror) compare(a, b reply) {
	if !strings.Contains(a.header.Get("Content-Type"), "json") {
		x, y := strings.Split(string(a.body), "\n"), strings.Split(string(b.body), "\n")
		if len(x) != len(y) {
			m.faults = append(m.faults, fmt.Sprintf("%d lines and %d", len(x), len(y)))
			return
		}
		for i := range x {
			m.texts(fmt.Sprint("line ", i+1), x[i], y[i])
		}
		return
	}
	m.trees("", a.tree(), b.tree())
}

func (m *mirror) trees(at string, a, b any) {
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			m.faults = append(m.faults, fmt.Sprintf("%s: %v and %v", at, a, b))
			return
		}
		low, high := "low", "high"
		for key, v := range x {
			switch other, is := y[key]; {
			case key == "id" || key == "by" || key == "at" || key == "owner" || key == "received" || key == "sealed_at" || key == "inputs" || key == "tag" || strings.HasSuffix(key, "_at") || key == "hand":
			case !is:
				m.faults = append(m.faults, at+"/"+key+" is missing")
			case key == low && flips(x[low], y[high]) && flips(x[high], y[low]): // an interval turned over
			case key == high && flips(x[low], y[high]) && flips(x[high], y[low]):
			default:
				m.trees(at+"/"+key, v, other)
			}
		}
	case []any:
		y, ok := b.([]any)
		if !ok || len(x) != len(y) {
			m.faults = append(m.faults, fmt.Sprintf("%s: %v and %v", at, a, b))
			return
		}
		if len(x) == 2 && flips(x[0], y[1]) && flips(x[1], y[0]) {
			return
		}
		for i := range x {
			m.trees(fmt.Sprint(at, "/", i), x[i], y[i])
		}
	case float64:
		if y, ok := b.(float64); !ok || math.Abs(math.Abs(x)-math.Abs(y)) > 1e-9*(1+math.Abs(x)) {
			m.faults = append(m.faults, fmt.Sprintf("%s: %v and %v", at, a, b))
		}
	case string:
		if y, ok := b.(string); ok {
			m.texts(at, x, y)
			return
		}
		m.faults = append(m.faults, fmt.Sprintf("%s: %v and %v", at, a, b))
	default:
		if a != b {
			m.faults = append(m.faults, fmt.Sprintf("%s: %v and %v", at, a, b))
		}
	}
}

// flips reports numbers, or lists of them, of which one is minus the other.
func flips(a, b any) bool {
	if list, many := a.([]any); many {
		other, _ := b.([]any)
		for i := range list {
			if i >= len(other) || !flips(list[i], other[i]) {
				return false
			}
		}
		return len(list) == len(other)
	}
	x, ok1 := a.(float64)
	y, ok2 := b.(float64)
	return ok1 && ok2 && math.Abs(x+y) <= 1e-9*(1+math.Abs(x))
}

// texts demands the same words and the same sizes; only sides and signs may
// differ, and sides only all together.
func (m *mirror) texts(at, a, b string) {
	a, b = m.plain(0, a), m.plain(1, b)
	if sizes(a) != sizes(b) || sides.ReplaceAllString(numbers.ReplaceAllString(a, "#"), "SIDE") != sides.ReplaceAllString(numbers.ReplaceAllString(b, "#"), "SIDE") {
		m.faults = append(m.faults, fmt.Sprintf("%s: %q and %q are no mirror", at, a, b))
		return
	}
	if a != b && slices.Compare(sides.FindAllString(a, -1), sides.FindAllString(b, -1)) != 0 {
		m.swapped++
	}
}

// plain takes out what names records and times.
func (m *mirror) plain(k int, text string) string {
	text = uuids.ReplaceAllStringFunc(text, func(u string) string {
		if name, known := m.names[k][u]; known {
			return name
		}
		return "ID"
	})
	return strings.ReplaceAll(stamps.ReplaceAllString(text, "TIME"), "right positive", "positive")
}

// sizes are the numbers of a text without their signs, sorted: of a mirrored
// interval the ends change places.
func sizes(text string) string {
	list := numbers.FindAllString(text, -1)
	for i, n := range list {
		n = strings.TrimLeft(n, "+−-")
		if v, err := strconv.ParseFloat(n, 64); err == nil && v == 0 {
			n = "0"
		}
		list[i] = n
	}
	slices.Sort(list)
	return strings.Join(list, " ")
}
