package server_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"maps"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/internal/server"
	"tautline/notebook"
	"tautline/sound"
	"tautline/sound/soundtest"
)

var update = flag.Bool("update", false, "write the manual anew")

const manualPath = "../../docs/manual/api.md"

// exchange is one request with its answer, for the manual.
type exchange struct {
	operation string // "PUT /api/v1/bows/{id}"
	path      string
	body      any
	headers   []string // name, value, name, value
	reply     reply
}

// recording is a synthesised session of shots as a WAV file.
func recording(t testing.TB, braceMM float64, seed uint64) []byte {
	t.Helper()
	samples := soundtest.DefaultBow().Session(unitLength(braceMM), 6, 1.5, 16000, seed)
	var file bytes.Buffer
	if err := sound.EncodeWAV(&file, samples, 16000); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

// story does the whole job once over HTTP: every route, in the order in which
// an archer would use it.
func story(s *site) (told []exchange) {
	s.t.Helper()
	tell := func(operation, path string, body any, status int, headers ...string) reply {
		method, pattern, _ := strings.Cut(operation, " ")
		r := s.do(method, path, body, headers...).want(status)
		for strings.Contains(string(r.body), `"state":"computing"`) { // the manual shows what comes of it
			time.Sleep(50 * time.Millisecond)
			r = s.do(method, path, body, headers...).want(status)
		}
		told = append(told, exchange{method + " " + pattern, path, body, headers, r})
		return r
	}
	api := "/api/v1"
	bow, setup, session, reading, fix := id(), id(), id(), id(), id()
	undo, trial, event, sound, verdict, chosen := id(), id(), id(), id(), id(), id()

	tell("GET /api/v1/health", api+"/health", nil, 200)
	tell("GET /api/v1/ready", api+"/ready", nil, 200)
	tag := tell("GET /api/v1/me", api+"/me", nil, 200).header.Get("ETag")
	tell("PUT /api/v1/me", api+"/me", obj{"name": "Robin", "hand": "right", "units": "mixed", "decimal_comma": false}, 200, "If-Match", tag)
	tell("GET /api/v1/units", api+"/units", nil, 200)
	tell("POST /api/v1/units/parse", api+"/units/parse", obj{"quantity": "setting", "field": "brace_height", "text": "8 3/4 in"}, 200)
	tell("GET /api/v1/reading-kinds", api+"/reading-kinds", nil, 200)
	tell("GET /api/v1/demo", api+"/demo", nil, 200)
	tell("PUT /api/v1/demo", api+"/demo", obj{}, 501)
	tell("DELETE /api/v1/demo", api+"/demo", nil, 501)

	tell("PUT /api/v1/bows/{id}", api+"/bows/"+bow, obj{"name": "Blue 68", "style": "recurve"}, 201)
	tell("POST /api/v1/setups/check", api+"/setups/check", obj{"settings": settings(), "preview": true}, 200)
	tell("PUT /api/v1/setups/{id}", api+"/setups/"+setup, obj{"bow": bow, "reason": "as bought", "settings": settings()}, 201)
	tell("GET /api/v1/setups/{id}", api+"/setups/"+setup, nil, 200)
	tell("GET /api/v1/setups/{id}/putback", api+"/setups/"+setup+"/putback", nil, 200)
	tag = tell("GET /api/v1/bows/{id}", api+"/bows/"+bow, nil, 200).header.Get("ETag")
	tell("PUT /api/v1/bows/{id}/about", api+"/bows/"+bow+"/about", obj{"name": "Blue 68, outdoor", "style": "recurve"}, 200, "If-Match", tag)
	tell("GET /api/v1/bows", api+"/bows", nil, 200)
	tell("POST /api/v1/predict", api+"/predict", obj{"setup": setup, "set": obj{"brace_height": "21.5 cm"}}, 200)
	tell("POST /api/v1/sweep", api+"/sweep", obj{"setup": setup, "steps": 5}, 200)

	tell("POST /api/v1/target", api+"/target", obj{"setup": setup, "moves": obj{"brace_height": "21.5 cm", "button_preload": "1.8 N"}, "distances": []string{"18 m", "70 m"}}, 200)
	tell("POST /api/v1/target/quick", api+"/target/quick", obj{"setup": setup, "moves": obj{"point_mass": "100 gr"}, "distances": []string{"30 m"}}, 200)
	tell("POST /api/v1/shafts", api+"/shafts", obj{"setup": setup, "reach": "30 mm", "count": 3, "work": id()}, 200)
	tell("POST /api/v1/forgiveness", api+"/forgiveness", obj{"setup": setup, "from": "21.5 cm", "to": "22.5 cm", "repeatability": obj{"draw_length": "2 mm"}}, 200)
	tell("POST /api/v1/bows/{id}/nocking", api+"/bows/"+bow+"/nocking", obj{"set": obj{"rest.wire_reach": "0.5 mm", "rest.powder_mark": "clean"},
		"readings": []obj{{"nocking_point": "10 mm", "distance": "18 m", "bare_up": "-6 cm"}}}, 200)
	tell("POST /api/v1/sightmarks", api+"/sightmarks", obj{"setup": setup, "marks": []obj{{"distance": "18 m", "reading": "12.5 mm"}, {"distance": "50 m", "reading": "45.1 mm"}}, "air": obj{"temperature": "28 °C", "humidity": "60 %"}}, 200)
	tell("GET /api/v1/work/{id}", api+"/work/"+id(), nil, 200)

	tell("PUT /api/v1/sessions/{id}", api+"/sessions/"+session, obj{"bow": bow, "place": "club hall, lane 3", "air": "18 °C"}, 201)
	tell("PUT /api/v1/readings/{id}", api+"/readings/"+reading, obj{"bow": bow, "setup": setup, "session": session, "kind": "brace_height", "text": "22.1 cm", "instrument": "bow square"}, 201)
	tell("PUT /api/v1/readings/{id}", api+"/readings/"+fix, obj{"bow": bow, "setup": setup, "session": session, "kind": "brace_height", "text": "22.2 cm", "corrects": reading}, 201)
	tell("GET /api/v1/readings/{id}", api+"/readings/"+fix, nil, 200)
	tell("GET /api/v1/readings", api+"/readings?session="+session, nil, 200)
	tell("GET /api/v1/readings.csv", api+"/readings.csv?setup="+setup, nil, 200)
	tell("GET /api/v1/export.jsonl", api+"/export.jsonl?bow="+bow, nil, 200)
	tell("PUT /api/v1/retractions/{id}", api+"/retractions/"+undo, obj{"target": fix, "reason": "read from the wrong edge"}, 201)
	tell("GET /api/v1/retractions", api+"/retractions?bow="+bow, nil, 200)
	tell("GET /api/v1/sessions/{id}", api+"/sessions/"+session, nil, 200)
	tell("GET /api/v1/sessions", api+"/sessions?bow="+bow, nil, 200)

	tell("GET /api/v1/faces", api+"/faces", nil, 200)
	end, better := id(), id()
	tell("PUT /api/v1/ends/{id}", api+"/ends/"+end, obj{"bow": bow, "setup": setup, "session": session, "number": 1, "distance": "70 m", "face": "122",
		"impacts": []obj{{"arrow": "1", "x_m": 0.031, "y_m": -0.052}, {"arrow": "2", "x_m": -0.084, "y_m": 0.017}, {"arrow": "3", "ring": "8"}}}, 201)
	tell("PUT /api/v1/ends/{id}", api+"/ends/"+better, obj{"bow": bow, "setup": setup, "session": session, "number": 1, "distance": "70 m", "face": "122", "corrects": end,
		"impacts": []obj{{"arrow": "1", "x_m": 0.031, "y_m": -0.052}, {"arrow": "2", "x_m": -0.084, "y_m": 0.017}, {"arrow": "3", "x_m": 0.142, "y_m": 0.1, "ring": "8"}}}, 201)
	tell("GET /api/v1/ends/{id}", api+"/ends/"+better, nil, 200)
	tell("GET /api/v1/ends", api+"/ends?session="+session, nil, 200)
	tell("GET /api/v1/ends.csv", api+"/ends.csv?setup="+setup, nil, 200)
	tell("POST /api/v1/ends/read-csv", api+"/ends/read-csv", "end,arrow,x_cm,y_cm\n1,1,3.1,-5.2\n1,2,-8.4,1.7\n", 200, "Content-Type", "text/csv")
	tell("POST /api/v1/groups/describe", api+"/groups/describe", obj{"setup": setup}, 200)
	tell("POST /api/v1/groups/expect", api+"/groups/expect", obj{"sigma": "6.1 cm", "measured_distance": "30 m", "distance": "70 m", "face": "122", "round_arrows": 72}, 200)
	tell("GET /api/v1/bows/{id}/observed", api+"/bows/"+bow+"/observed", nil, 200)
	tell("POST /api/v1/groups/compare", api+"/groups/compare", obj{"a": obj{"setup": setup}, "b": obj{"face": "122", "distance": "70 m", "impacts": []obj{
		{"end": 1, "x_m": 0.02, "y_m": 0.03}, {"end": 1, "x_m": -0.04, "y_m": 0.01}, {"end": 1, "x_m": 0.01, "y_m": -0.05}}}}, 200)

	plan := tell("POST /api/v1/trials/plan", api+"/trials/plan", obj{"setup": setup, "ask": obj{"turns_per_step": 3}}, 200)
	tell("PUT /api/v1/trials/{id}", api+"/trials/"+trial, obj{"setup": setup, "ask": obj{"turns_per_step": 3}}, 201)
	tell("PUT /api/v1/trials/{id}/events/{event}", api+"/trials/"+trial+"/events/"+event, obj{"what": "reached", "stop": 0}, 201)
	file := recording(s.t, 216, 1)
	hash := tell("PUT /api/v1/recordings/{id}/sound", api+"/recordings/"+sound+"/sound", file, 200, "Content-Type", "audio/wav").at("hash")
	parts, half := api+"/recordings/"+id()+"/upload", len(file)/2
	tell("PATCH /api/v1/recordings/{id}/upload", parts, file[:half], 200, partHeaders(0, len(file), "?0")...)
	tell("GET /api/v1/recordings/{id}/upload", parts, nil, 200)
	s.do("PATCH", parts, file[half:], partHeaders(half, len(file), "?1", "Repr-Digest", digestOf(file))...).want(200)
	tell("DELETE /api/v1/recordings/{id}/upload", parts, nil, 204)
	tell("PUT /api/v1/recordings/{id}", api+"/recordings/"+sound, obj{"hash": hash, "media": "audio/wav", "name": "stop-1.wav", "bow": bow, "trial": trial, "stop": 0}, 201)
	tell("GET /api/v1/recordings/{id}", api+"/recordings/"+sound, nil, 200)
	tell("GET /api/v1/recordings", api+"/recordings?trial="+trial, nil, 200)
	tell("GET /api/v1/recordings/{id}/sound", api+"/recordings/"+sound+"/sound", nil, 206, "Range", "bytes=0-43")
	tell("GET /api/v1/recordings/{id}/listening", api+"/recordings/"+sound+"/listening", nil, 200)
	second := id()
	louder := s.do("PUT", api+"/recordings/"+second+"/sound", recording(s.t, 206, 2), "Content-Type", "audio/wav").want(200).at("hash")
	s.do("PUT", api+"/recordings/"+second, obj{"hash": louder, "name": "stop-2.wav", "bow": bow, "trial": trial, "stop": 1}).want(201)
	first := s.do("GET", api+"/recordings/"+sound+"/listening", nil).want(200).at("automatic").([]any)[0].(obj)["release_s"]
	tell("PUT /api/v1/onsets/{id}", api+"/onsets/"+id(), obj{"recording": sound,
		"corrections": []any{obj{"auto_release_s": first, "release_s": first.(float64) - 0.002}},
		"ties":        []any{obj{"release_s": first.(float64) - 0.002, "arrow": "4", "ring": "9"}}}, 201)
	tell("GET /api/v1/recordings/{id}/onsets", api+"/recordings/"+sound+"/onsets", nil, 200)
	tell("GET /api/v1/recordings/{id}/waveform", api+"/recordings/"+sound+"/waveform?from=1.9&to=2.4&bins=100", nil, 200)
	tell("GET /api/v1/recordings/{id}/spectrogram", api+"/recordings/"+sound+"/spectrogram?from=1.9&to=2.4", nil, 200)
	tell("GET /api/v1/recordings/{id}/clip", api+"/recordings/"+sound+"/clip?from=1.9&to=2.4", nil, 200)
	tell("GET /api/v1/recordings/{id}/shots/{shot}/decay", api+"/recordings/"+sound+"/shots/1/decay", nil, 200)
	tell("GET /api/v1/sound/comparison", api+"/sound/comparison?a="+sound+"&b="+second, nil, 200)
	tell("GET /api/v1/sound/pair", api+"/sound/pair?a="+sound+"&b="+second, nil, 200)
	tell("GET /api/v1/bows/{id}/signature", api+"/bows/"+bow+"/signature", nil, 200)
	stops := plan.at("stops").([]any)
	for i, stop := range stops {
		brace := stop.(obj)["brace_height"].(obj)["si"].(float64)
		text := fmt.Sprintf("%.1f mm", brace*1000)
		s.do("PUT", api+"/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": i, "kind": "brace_height", "text": text}).want(201)
	}
	tell("GET /api/v1/trials/{id}", api+"/trials/"+trial, nil, 200)
	tell("GET /api/v1/trials", api+"/trials?bow="+bow, nil, 200)
	tell("POST /api/v1/trials/{id}/verdict", api+"/trials/"+trial+"/verdict", obj{}, 200)
	tell("PUT /api/v1/trials/{id}/verdicts/{verdict}", api+"/trials/"+trial+"/verdicts/"+verdict, obj{}, 201)
	tell("GET /api/v1/trials/{id}/verdicts", api+"/trials/"+trial+"/verdicts", nil, 200)
	tell("PUT /api/v1/trials/{id}/choices/{setup}", api+"/trials/"+trial+"/choices/"+chosen, obj{"stop": 1, "reason": "quieter, and still inside the range"}, 201)
	tell("GET /api/v1/bows/{id}/setups", api+"/bows/"+bow+"/setups", nil, 200)
	done := func(method, path string, body any) {
		for s.do(method, path, body).want(200).at("state") == "computing" {
			time.Sleep(50 * time.Millisecond)
		}
	}
	done("GET", api+"/bows/"+bow+"/standing", nil)
	done("POST", api+"/transfer", obj{"first": setup, "spare": chosen})
	done("GET", api+"/setups/"+setup+"/explanation", nil)
	s.do("PUT", api+"/readings/"+id(), obj{"bow": bow, "setup": setup, "kind": "bare_shaft_right", "text": "4 cm", "distance": "30 m", "arrows": 6}).want(201)
	done("GET", api+"/bows/"+bow+"/fit", nil)
	tell("GET /api/v1/bows/{id}/fit", api+"/bows/"+bow+"/fit", nil, 200)
	tell("PUT /api/v1/fits/{id}", api+"/fits/"+id(), obj{"bow": bow}, 201)
	tell("POST /api/v1/bows/{id}/whatif", api+"/bows/"+bow+"/whatif", obj{"set": obj{"brace_height": "22.5 cm"}}, 200)
	wish := obj{"wish": "bare_to_group", "offset_right": "6 cm"}
	done("POST", api+"/bows/"+bow+"/advice", wish)
	tell("POST /api/v1/bows/{id}/advice", api+"/bows/"+bow+"/advice", wish, 200)
	tell("GET /api/v1/bows/{id}/standing", api+"/bows/"+bow+"/standing", nil, 200)
	tell("PUT /api/v1/rulings/{id}", api+"/rulings/"+id(), obj{"target": verdict, "counts": true, "reason": "three bare shafts still in the group"}, 201)
	tell("GET /api/v1/bows/{id}/ledger", api+"/bows/"+bow+"/ledger", nil, 200)
	tell("GET /api/v1/bows/{id}/upkeep", api+"/bows/"+bow+"/upkeep", nil, 200)
	tell("POST /api/v1/compare", api+"/compare", obj{"first": setup, "second": chosen}, 200)
	tell("POST /api/v1/transfer", api+"/transfer", obj{"first": setup, "spare": chosen}, 200)
	tell("GET /api/v1/setups/{id}/explanation", api+"/setups/"+setup+"/explanation", nil, 200)
	tell("GET /api/v1/sheets/{kind}/{id}", api+"/sheets/setup/"+setup, nil, 200)
	tell("GET /api/v1/week", api+"/week", nil, 200)
	tell("GET /api/v1/round", api+"/round", nil, 200)
	return told
}

// demoLoader holds no demo: that is the command line's.
type demoLoader struct{ loaded bool }

func (d *demoLoader) Loaded(context.Context) (bool, error)    { return d.loaded, nil }
func (d *demoLoader) Load(context.Context, notebook.ID) error { d.loaded = true; return nil }
func (d *demoLoader) Remove(context.Context) error            { d.loaded = false; return nil }

// demoStory is the routes of the demo where it is offered.
func demoStory(t *testing.T) (told []exchange) {
	s := open(t, func(c *server.Config) { c.Demo = &demoLoader{} })
	const path = "/api/v1/demo"
	for _, method := range []string{"PUT", "DELETE"} {
		var body any
		if method == "PUT" {
			body = obj{}
		}
		told = append(told, exchange{method + " " + path, path, body, nil, s.do(method, path, body).want(200)})
	}
	return told
}

// TestGoldenStory does the whole job once over HTTP and holds what follows from
// it: every route works and is in the manual, the log is discreet, reading
// changes nothing, and damaged requests are refused in good order. One story
// for all of them, because its computing takes the time.
func TestGoldenStory(t *testing.T) {
	var log page
	s := open(t, func(c *server.Config) {
		c.Log = slog.New(slog.NewJSONHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
		c.Limits.Compute = 10 * time.Minute // nothing is judged by its time
	})
	told := story(s)
	c := openClub(t)
	atClub := clubStory(c)
	atClub = append(atClub, recovery(c))
	atClub = append(demoStory(t), atClub...)
	t.Run("every route", func(t *testing.T) { checkRoutes(t, s, append(slices.Clone(told), atClub...)) })
	t.Run("requests", func(t *testing.T) { checkRequests(t, s, append(slices.Clone(told), atClub...)) })
	t.Run("pictures", func(t *testing.T) { checkPictures(t, told) })
	t.Run("log", func(t *testing.T) { checkLog(t, s, &log) })
	t.Run("reading changes nothing", func(t *testing.T) { checkReading(t, s, told) })
	t.Run("mutated requests", func(t *testing.T) { checkMutated(t, s, told) })
}

// checkRoutes demands that the story, the API's description and the manual
// know the same routes.
func checkRoutes(t *testing.T, s *site, told []exchange) {
	described := operations(s.do("GET", "/openapi.json", nil).want(200))
	var names []string
	for _, e := range told {
		names = append(names, e.operation)
	}
	for _, op := range described {
		if !slices.Contains(names, op) {
			t.Errorf("the story does not use %s", op)
		}
	}
	if *update {
		if err := os.MkdirAll("../../docs/manual", 0o755); err != nil {
			t.Fatal(err)
		}
		err := errors.Join(os.WriteFile(manualPath, manual(t, told), 0o644), os.WriteFile("examples.json", examplesOf(t, told), 0o644))
		if err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(manualPath)
	if err != nil {
		t.Fatal(err)
	}
	for _, op := range described {
		if !bytes.Contains(text, []byte("### "+op+"\n")) {
			t.Errorf("docs/manual/api.md does not show %s; write it anew with: go test ./internal/server -run Golden -update", op)
		}
	}
}

// operations lists what a description describes, as "GET /api/v1/bows".
func operations(description reply) (list []string) {
	for path, methods := range description.tree()["paths"].(obj) {
		for method := range methods.(obj) {
			list = append(list, strings.ToUpper(method)+" "+path)
		}
	}
	slices.Sort(list)
	return list
}

// once is the first exchange of each operation, or the first that came to
// something.
func once(told []exchange) (out []exchange) {
	at := map[string]int{}
	for _, e := range told {
		if i, known := at[e.operation]; !known {
			at[e.operation] = len(out)
			out = append(out, e)
		} else if out[i].reply.status >= 300 && e.reply.status < 300 {
			out[i] = e
		}
	}
	return out
}

// examplesOf is the file of examples in the API's description: the same
// exchanges, shortened in the same way.
func examplesOf(t *testing.T, told []exchange) []byte {
	t.Helper()
	all := obj{}
	for _, e := range once(told) {
		one := obj{"status": fmt.Sprint(e.reply.status)}
		if given := parametersOf(e); len(given) > 0 {
			one["parameters"] = given
		}
		switch body := e.body.(type) {
		case nil, []byte:
		case string:
			one["request"] = body
		default:
			one["request"] = shortened(t, body)
		}
		switch kind := e.reply.header.Get("Content-Type"); {
		case isTable(kind):
			one["answer"] = firstLines(string(e.reply.body))
		case strings.Contains(kind, "json"):
			one["answer"] = shorten(e.reply.tree())
		case strings.HasPrefix(kind, "text/"):
			one["answer"] = firstLines(string(e.reply.body))
		}
		all[e.operation] = one
	}
	return append(steady([]byte(printed(all, ""))), '\n')
}

// isTable tells what is written line by line.
func isTable(kind string) bool {
	return strings.HasPrefix(kind, "text/csv") || kind == "application/jsonl"
}

// firstLines are enough to show what a table looks like.
func firstLines(text string) string {
	lines := strings.SplitAfterN(text, "\n", 4)
	return strings.Join(lines[:min(3, len(lines))], "")
}

// parametersOf are the parameters as they stood in the address.
func parametersOf(e exchange) obj {
	out := obj{}
	_, pattern, _ := strings.Cut(e.operation, " ")
	bare, query, _ := strings.Cut(e.path, "?")
	parts := strings.Split(bare, "/")
	for i, p := range strings.Split(pattern, "/") {
		if strings.HasPrefix(p, "{") {
			out[strings.Trim(p, "{}")] = parts[i]
		}
	}
	for part := range strings.SplitSeq(query, "&") {
		if name, value, ok := strings.Cut(part, "="); ok {
			out[name] = value
		}
	}
	return out
}

// bodyOf is a body as it is sent, and whether it is JSON.
func bodyOf(t *testing.T, body any) (raw []byte, isJSON bool) {
	t.Helper()
	switch body.(type) {
	case nil, []byte, string:
		return nil, false
	}
	raw, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	return raw, true
}

// manual writes the page: the rules from api.head.md, then every exchange once.
func manual(t *testing.T, told []exchange) []byte {
	t.Helper()
	head, err := os.ReadFile("testdata/api.head.md")
	if err != nil {
		t.Fatal(err)
	}
	page := bytes.NewBuffer(head)
	for _, e := range once(told) {
		fmt.Fprintf(page, "\n### %s\n\n", e.operation)
		method, _, _ := strings.Cut(e.operation, " ")
		fmt.Fprintf(page, "```\n%s %s\n", method, e.path)
		for pair := range slices.Chunk(e.headers, 2) {
			fmt.Fprintf(page, "%s: %s\n", pair[0], pair[1])
		}
		switch body := e.body.(type) {
		case nil:
		case []byte:
			fmt.Fprintf(page, "\n(%d bytes of sound)\n", len(body))
		case string:
			fmt.Fprintf(page, "Content-Type: text/csv\n\n%s", body)
		default:
			fmt.Fprintf(page, "\n%s\n", example(t, body))
		}
		fmt.Fprintf(page, "```\n\nanswers %d:\n\n```\n%s\n```\n", e.reply.status, answerExample(t, e.reply))
	}
	return steady(page.Bytes())
}

var (
	anyID   = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`)
	anyHash = regexp.MustCompile(`[0-9a-f]{64}`)
	secrets = regexp.MustCompile(`(#|"secret": ")[\w-]{43}`)
	codes   = regexp.MustCompile(`(?:[A-Z2-7]{4}-)*[A-Z2-7]{4}(-[A-Z2-7]{4}){3}`)
	shared  = regexp.MustCompile(`\b[A-Z2-7]{32}\b`)
	today   = regexp.MustCompile(`20\d\d-\d\d-\d\d: `)
	fitted  = regexp.MustCompile(`as fitted on \d+ [A-Z][a-z]+ 20\d\d`)
	short   = regexp.MustCompile(`(: as bought \[)[0-9a-f]{4}\]`)
	zipped  = regexp.MustCompile(`\(\d+ bytes of application/zip\)`)
	digits  = regexp.MustCompile(`("code": ")\d{6}"`)
	typed   = regexp.MustCompile(`("code": ")(?:[a-z2-7]{4} ){5}[a-z2-7]{4}"`)
	scanned = regexp.MustCompile(`;base64,[A-Za-z0-9+/=]+`)
	anyTag  = regexp.MustCompile(`(\\?")(\d+)-[0-9a-f]{16}\\?"`)
	anyTime = regexp.MustCompile(`20\d\d-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z`)
)

// steady numbers the ids in the order in which they appear and stops the
// clock, so that the page changes only when the API does.
func steady(page []byte) []byte {
	known := map[string]string{}
	page = anyID.ReplaceAllFunc(page, func(id []byte) []byte {
		if _, ok := known[string(id)]; !ok {
			known[string(id)] = fmt.Sprintf("0198c2f4-7b1e-7c3a-9d52-%012x", len(known)+1)
		}
		return []byte(known[string(id)])
	})
	page = anyTag.ReplaceAll(page, []byte(`${1}${2}-9f51c0de9f51c0de${1}`))
	page = anyHash.ReplaceAll(page, []byte(strings.Repeat("9f51", 16)))
	page = secrets.ReplaceAll(page, []byte("${1}kq4-an-example-of-a-secret-43-characters-long"))
	page = codes.ReplaceAll(page, []byte("KQ4M-2XVA-7TNE-LD3R-OW6S-HGB5"))
	page = shared.ReplaceAll(page, []byte("JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP"))
	page = today.ReplaceAll(page, []byte("2026-05-04: "))
	page = fitted.ReplaceAll(page, []byte("as fitted on 4 May 2026"))
	page = short.ReplaceAll(page, []byte("${1}32f8]"))
	page = zipped.ReplaceAll(page, []byte("(7545 bytes of application/zip)"))
	page = digits.ReplaceAll(page, []byte(`${1}656707"`))
	page = typed.ReplaceAll(page, []byte(`${1}kq4m 2xva 7tne ld3r ow6s hgb5"`))
	page = scanned.ReplaceAll(page, []byte(";base64,…"))
	return anyTime.ReplaceAll(page, []byte("2026-05-04T09:30:00Z"))
}

func answerExample(t *testing.T, r reply) string {
	if len(r.body) == 0 {
		return "(nothing)"
	}
	if isTable(r.header.Get("Content-Type")) {
		return firstLines(string(r.body)) + "…"
	}
	if !strings.Contains(r.header.Get("Content-Type"), "json") {
		return fmt.Sprintf("(%d bytes of %s)", len(r.body), r.header.Get("Content-Type"))
	}
	return example(t, r.tree())
}

// example prints JSON with numbers and lists shortened.
func example(t *testing.T, v any) string {
	t.Helper()
	return printed(shortened(t, v), "")
}

func shortened(t *testing.T, v any) any {
	t.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		t.Fatal(err)
	}
	return shorten(tree)
}

// printed writes JSON with whatever fits into a line on one line.
func printed(v any, indent string) string {
	line := compact(v)
	if len(line)+len(indent) <= 120 {
		return line
	}
	var out strings.Builder
	switch v := v.(type) {
	case map[string]any:
		out.WriteString("{\n")
		for i, k := range slices.Sorted(maps.Keys(v)) {
			if i > 0 {
				out.WriteString(",\n")
			}
			fmt.Fprintf(&out, "%s  %q: %s", indent, k, printed(v[k], indent+"  "))
		}
		out.WriteString("\n" + indent + "}")
	case []any:
		out.WriteString("[\n")
		for i, x := range v {
			if i > 0 {
				out.WriteString(",\n")
			}
			out.WriteString(indent + "  " + printed(x, indent+"  "))
		}
		out.WriteString("\n" + indent + "]")
	default:
		return line
	}
	return out.String()
}

func compact(v any) string {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return "?"
	}
	return strings.NewReplacer(`":`, `": `, `,"`, `, "`).Replace(strings.TrimSpace(out.String()))
}

// shorten keeps the first two entries of lists and four digits of numbers.
func shorten(v any) any {
	switch v := v.(type) {
	case map[string]any:
		out := map[string]any{}
		for k, x := range v {
			out[k] = shorten(x)
		}
		return out
	case []any:
		out := []any{}
		for i, x := range v {
			if i == 2 || i == 1 && len(fmt.Sprint(x)) > 60 {
				break
			}
			out = append(out, shorten(x))
		}
		return out
	case string: // before it is laid out: nanoseconds have nine digits or fewer
		return anyTime.ReplaceAllString(v, "2026-05-04T09:30:00Z")
	case float64:
		if v == math.Trunc(v) || v == 0 {
			return v
		}
		scale := math.Pow(10, 3-math.Floor(math.Log10(math.Abs(v))))
		return math.Round(v*scale) / scale
	}
	return v
}
