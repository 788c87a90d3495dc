package server_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

// evening is a synthesised recording: shots 1.5 s apart from 2 s on, level is
// each one's own in dB against the usual.
func evening(t testing.TB, levels []float64, seed uint64) []byte {
	t.Helper()
	b := soundtest.DefaultBow()
	b.Scatter = 0.3
	c := soundtest.Config{Rate: 16000, Seed: seed, Noise: soundtest.Noise{Pink: 0.001}}
	for i, level := range levels {
		s := b.Shot(220*unit.Millimetre, level, rand.New(rand.NewPCG(seed, uint64(i))))
		s.Release = 2 + 1.5*unit.Duration(i)
		c.Shots = append(c.Shots, s)
	}
	var file bytes.Buffer
	if err := sound.EncodeWAV(&file, soundtest.Synthesise(c), 16000); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

// send stores a recording with its record and gives its id.
func (s *site) send(wav []byte, about obj) string {
	s.t.Helper()
	r := id()
	about["hash"] = s.do("PUT", "/api/v1/recordings/"+r+"/sound", wav, "Content-Type", "audio/wav").want(200).at("hash")
	s.do("PUT", "/api/v1/recordings/"+r, about).want(201)
	return r
}

// releases reads the shots' onsets from a listening.
func releases(r reply, list string) (at []float64) {
	for _, s := range r.at(list).([]any) {
		at = append(at, s.(obj)["release_s"].(float64))
	}
	return at
}

// An onset moved, a shot struck out, one added: the listening measures what a
// person said and still shows what the program found; the latest correction
// counts, and an empty one puts everything back.
func TestOnsetsAreCorrectedAndKept(t *testing.T) {
	s := open(t)
	rec := s.send(evening(t, make([]float64, 4), 1), obj{"name": "evening.wav"})
	listening := func() reply { return s.do("GET", "/api/v1/recordings/"+rec+"/listening", nil).want(200) }
	found := releases(listening(), "shots")
	if len(found) != 4 || !slices.Equal(found, releases(listening(), "automatic")) {
		t.Fatalf("found %v; wanted 4 shots, automatic and in force the same", found)
	}
	correct := func(corrections ...any) {
		s.do("PUT", "/api/v1/onsets/"+id(), obj{"recording": rec, "corrections": corrections, "ties": []any{obj{"release_s": found[2], "arrow": "7", "ring": "X"}}}).want(201)
	}
	correct(obj{"auto_release_s": found[0], "release_s": found[0] + 0.004}, obj{"auto_release_s": found[1], "no_shot": true}, obj{"release_s": 1.2, "impact_s": 1.3})
	r := listening()
	want := []float64{1.2, found[0] + 0.004, found[2], found[3]}
	if got := releases(r, "shots"); !slices.Equal(got, want) {
		t.Errorf("shots at %v, wanted %v", got, want)
	}
	if got := releases(r, "automatic"); !slices.Equal(got, found) {
		t.Errorf("found by the program: %v, wanted %v as before", got, found)
	}
	tied := r.at("shots").([]any)[2].(obj)
	if tied["arrow"] != "7" || tied["ring"] != "X" {
		t.Errorf("the tied shot is %v", tied)
	}
	correct()
	if got := releases(listening(), "shots"); !slices.Equal(got, found) {
		t.Errorf("put back: %v, wanted %v", got, found)
	}
	if n := len(s.do("GET", "/api/v1/recordings/"+rec+"/onsets", nil).want(200).at("rows").([]any)); n != 2 {
		t.Errorf("%d corrections are kept, wanted both", n)
	}
}

// What cannot be meant is refused with the field at fault, and changes nothing.
func TestOnsetsAreChecked(t *testing.T) {
	s := open(t)
	rec := s.send(evening(t, make([]float64, 2), 2), obj{})
	for field, body := range map[string]obj{
		"/corrections/0":           {"recording": rec, "corrections": []any{obj{"no_shot": true, "release_s": 2}}},
		"/corrections/0/impact_s":  {"recording": rec, "corrections": []any{obj{"release_s": 2, "impact_s": 1.9}}},
		"/corrections/0/clicker_s": {"recording": rec, "corrections": []any{obj{"release_s": 2, "clicker_s": 2.1}}},
		"/recording":               {"recording": id(), "corrections": []any{}},
		"/ties/0/reading":          {"recording": rec, "ties": []any{obj{"release_s": 2, "reading": id()}}},
	} {
		if r := s.do("PUT", "/api/v1/onsets/"+id(), body).want(422); r.at("field") != field {
			t.Errorf("%s: refused for %v", field, r.at("field"))
		}
	}
	if n := len(s.do("GET", "/api/v1/recordings/"+rec+"/onsets", nil).want(200).at("rows").([]any)); n != 0 {
		t.Errorf("%d corrections were kept", n)
	}
}

// A trial's verdict counts the shots as corrected: with every shot of a stop
// struck out there are fewer to count, and a shot tied to another stop moves.
func TestTrialHearsCorrections(t *testing.T) {
	s := open(t)
	bow, setup, trial := id(), id(), id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Wren 66", "style": "recurve"}).want(201)
	s.do("PUT", "/api/v1/setups/"+setup, obj{"bow": bow, "reason": "as bought", "settings": settings()}).want(201)
	s.do("PUT", "/api/v1/trials/"+trial, obj{"setup": setup, "ask": obj{"turns_per_step": 4}}).want(201)
	rec := s.send(evening(t, make([]float64, 6), 3), obj{"bow": bow, "trial": trial, "stop": 0})
	s.do("PUT", "/api/v1/readings/"+id(), obj{"bow": bow, "setup": setup, "trial": trial, "stop": 0, "kind": "brace_height", "text": "21.6 cm"}).want(201)
	arrows := func() float64 {
		return s.do("POST", "/api/v1/trials/"+trial+"/verdict", obj{}).want(200).at("arrows").(float64)
	}
	before := arrows()
	found := releases(s.do("GET", "/api/v1/recordings/"+rec+"/listening", nil).want(200), "automatic")
	var strike []any
	for _, at := range found[:2] {
		strike = append(strike, obj{"auto_release_s": at, "no_shot": true})
	}
	s.do("PUT", "/api/v1/onsets/"+id(), obj{"recording": rec, "corrections": strike}).want(201)
	if after := arrows(); len(found) != 6 || after != before-2 {
		t.Errorf("%v arrows counted with two struck out, %v before", after, before)
	}
}

// The outline of all of it and of a piece: the piece is finer, both hold the
// loudest sample, and neither has more steps than asked for.
func TestWaveformAtEveryZoom(t *testing.T) {
	s := open(t)
	rec := s.send(evening(t, make([]float64, 8), 4), obj{})
	top := func(query string, most int) (step, peak float64) {
		r := s.do("GET", "/api/v1/recordings/"+rec+"/waveform"+query, nil).want(200)
		high := r.at("max").([]any)
		if len(high) > most || len(high) < most/3 || len(high) != len(r.at("min").([]any)) {
			t.Errorf("%s: %d steps, asked for at most %d", query, len(high), most)
		}
		for _, v := range high {
			peak = max(peak, v.(float64))
		}
		return r.at("step_s").(float64), peak
	}
	whole, loudest := top("?bins=300", 300)
	fine, piece := top("?from=2&to=2.02&bins=300", 300)
	if fine > whole/50 || piece > loudest+1e-5 || piece < 0.05 {
		t.Errorf("steps of %g and %g s, peaks %g and %g", whole, fine, loudest, piece)
	}
	s.do("GET", "/api/v1/recordings/"+rec+"/waveform?from=400&to=401", nil).want(422)
}

// A spectrogram is packed as it says, and its strongest column is at the shot.
func TestSpectrogramIsPacked(t *testing.T) {
	s := open(t)
	rec := s.send(evening(t, make([]float64, 2), 5), obj{})
	r := s.do("GET", "/api/v1/recordings/"+rec+"/spectrogram?from=1.5&to=2.5", nil).want(200)
	levels, err := base64.StdEncoding.DecodeString(r.at("levels").(string))
	if err != nil {
		t.Fatal(err)
	}
	columns, rows := int(r.at("columns").(float64)), int(r.at("rows").(float64))
	if len(levels) != columns*rows || columns > 480 || rows > 160 {
		t.Fatalf("%d bytes for %d × %d", len(levels), columns, rows)
	}
	best, at := 0, 0
	for i := range columns {
		sum := 0
		for _, v := range levels[i*rows : (i+1)*rows] {
			sum += int(v)
		}
		if sum > best {
			best, at = sum, i
		}
	}
	if when := r.at("from_s").(float64) + float64(at)*r.at("step_s").(float64); math.Abs(when-2) > 0.03 {
		t.Errorf("strongest at %g s, the shot is at 2 s", when)
	}
	s.do("GET", "/api/v1/recordings/"+rec+"/spectrogram?from=0&to=60", nil).want(422)
}

// A piece is played as it was recorded, or raised; parts of it too.
func TestClipsArePlayed(t *testing.T) {
	s := open(t)
	rec := s.send(evening(t, make([]float64, 2), 6), obj{})
	plain := s.do("GET", "/api/v1/recordings/"+rec+"/clip?from=1.8&to=2.3", nil).want(200)
	raised := s.do("GET", "/api/v1/recordings/"+rec+"/clip?from=1.8&to=2.3&raise=true", nil).want(200)
	a, b := decoded(t, plain), decoded(t, raised)
	if len(a.Samples) != 8000 || len(b.Samples) != 8000 || peak(b) < 0.88 || peak(b) > 0.9 || peak(a) >= peak(b) {
		t.Errorf("%d and %d samples, peaks %g and %g; wanted 8000, the second at −1 dB", len(a.Samples), len(b.Samples), peak(a), peak(b))
	}
	s.do("GET", "/api/v1/recordings/"+rec+"/clip?from=1.8&to=2.3", nil, "Range", "bytes=0-43").want(206)
	s.do("GET", "/api/v1/recordings/"+rec+"/clip?from=0&to=30", nil).want(422)
}

func decoded(t *testing.T, r reply) sound.Clip {
	t.Helper()
	c, err := sound.Extract(context.Background(), bytes.NewReader(r.body), 0, 9, sound.Config{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func peak(c sound.Clip) (p float64) {
	for _, x := range c.Samples {
		p = max(p, math.Abs(x))
	}
	return p
}

func energy(x []float64) (sum float64) {
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// Two settings 3 dB apart: the difference is found, the spectra have their
// intervals, and played one after the other the louder stays 3 dB louder.
func TestTwoSettingsCompared(t *testing.T) {
	s := open(t)
	same := obj{"phone": "p", "where": "on the quiver", "distance_to_bale": "5 m"}
	about := func() obj {
		o := obj{}
		for k, v := range same {
			o[k] = v
		}
		return o
	}
	a := s.send(evening(t, make([]float64, 6), 7), about())
	b := s.send(evening(t, []float64{3, 3, 3, 3, 3, 3}, 8), about())
	r := s.do("GET", "/api/v1/sound/comparison?a="+a+"&b="+b, nil).want(200)
	level := r.at("measures").([]any)[0].(obj)
	if d := level["difference"].(float64); level["found"] != true || math.Abs(d-3) > 0.8 || !strings.HasPrefix(level["text"].(string), "B is ") {
		t.Errorf("level: %v", level)
	}
	line := r.at("figures").([]any)[0].(obj)["series"].([]any)[0].(obj)
	if len(line["low"].([]any)) != len(line["x"].([]any)) || len(line["x"].([]any)) < 15 {
		t.Errorf("the spectrum has %d bands", len(line["x"].([]any)))
	}
	pair := decoded(t, s.do("GET", "/api/v1/sound/pair?a="+a+"&b="+b, nil).want(200))
	half := len(pair.Samples) / 2
	first, second := energy(pair.Samples[:half]), energy(pair.Samples[half:])
	if step := 10 * math.Log10(second/first); step < 1.5 || step > 4.5 || peak(pair) < 0.88 {
		t.Errorf("played %.1f dB apart with peak %g; wanted about 3 dB and −1 dB", step, peak(pair))
	}
	same["where"] = "in the car"
	c := s.send(evening(t, []float64{3, 3, 3, 3, 3, 3}, 9), about())
	r = s.do("GET", "/api/v1/sound/comparison?a="+a+"&b="+c, nil).want(200)
	level = r.at("measures").([]any)[0].(obj)
	if len(r.at("warnings").([]any)) == 0 || level["found"] != false || !strings.HasPrefix(level["text"].(string), "not comparable") {
		t.Errorf("from another place: %v, warnings %v", level, r.at("warnings"))
	}
	s.do("GET", "/api/v1/sound/comparison?a="+a+"&b="+b+"&b_stop=x", nil).want(422)
}

// A bow's signature: nothing is flagged below 20 shots; with 24, one of them
// another sound altogether, that one is, with its arrow, and the chance flags
// to expect are stated.
func TestSignatureFlagsTheOddShot(t *testing.T) {
	s := open(t)
	bow := id()
	s.do("PUT", "/api/v1/bows/"+bow, obj{"name": "Wren 66", "style": "recurve"}).want(201)
	s.send(evening(t, make([]float64, 12), 11), obj{"bow": bow, "phone": "p"})
	few := s.do("GET", "/api/v1/bows/"+bow+"/signature", nil).want(200).at("groups").([]any)[0].(obj)
	if few["flags"] != 0.0 || !strings.Contains(few["text"].(string), "nothing is flagged below 20") {
		t.Errorf("twelve shots: %v", few["text"])
	}
	rec := s.send(oddEvening(t, 12, 5), obj{"bow": bow, "phone": "p"})
	at := releases(s.do("GET", "/api/v1/recordings/"+rec+"/listening", nil).want(200), "shots")[5]
	s.do("PUT", "/api/v1/onsets/"+id(), obj{"recording": rec, "corrections": []any{}, "ties": []any{obj{"release_s": at, "arrow": "11", "ring": "6"}}}).want(201)
	r := s.do("GET", "/api/v1/bows/"+bow+"/signature", nil).want(200)
	g := r.at("groups").([]any)[0].(obj)
	if g["chance_flags_per_72"] != 3.6 || math.Abs(g["smallest_p"].(float64)-1.0/24) > 1e-9 || !strings.Contains(g["text"].(string), "3.6 of 72 arrows") {
		t.Errorf("%v", g["text"])
	}
	odd := 0
	for _, shot := range g["shots"].([]any) {
		v := shot.(obj)
		if v["odd"] == true && v["recording"] == rec && v["number"] == 6.0 {
			odd++
			if v["arrow"] != "11" || v["ring"] != "6" {
				t.Errorf("the odd shot is not joined with its arrow: %v", v)
			}
		}
	}
	if odd != 1 || g["flags"].(float64) > 2 {
		t.Errorf("the odd shot was flagged %d times, %v flags in all", odd, g["flags"])
	}
	first := g["arrows"].([]any)[0].(obj)
	if first["arrow"] != "11" || first["odd"] != 1.0 {
		t.Errorf("arrows %v", g["arrows"])
	}
	// another place is another group
	s.send(evening(t, make([]float64, 6), 13), obj{"bow": bow, "phone": "p", "place": "field"})
	if n := len(s.do("GET", "/api/v1/bows/"+bow+"/signature", nil).want(200).at("groups").([]any)); n != 2 {
		t.Errorf("%d groups, wanted one per place", n)
	}
}

// oddEvening has one shot that rings on and hums: limbs knocked, say.
func oddEvening(t testing.TB, n, odd int) []byte {
	t.Helper()
	b := soundtest.DefaultBow()
	b.Scatter = 0.3
	c := soundtest.Config{Rate: 16000, Seed: 12, Noise: soundtest.Noise{Pink: 0.001}}
	for i := range n {
		s := b.Shot(220*unit.Millimetre, 0, rand.New(rand.NewPCG(12, uint64(i))))
		s.Release = 2 + 1.5*unit.Duration(i)
		if i == odd {
			s.String, s.Decay = 4, 0.03
		}
		c.Shots = append(c.Shots, s)
	}
	var file bytes.Buffer
	if err := sound.EncodeWAV(&file, soundtest.Synthesise(c), 16000); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

// Who goes away stops the computing: the next one is answered at once.
func TestPicturesAreCancelled(t *testing.T) {
	s := open(t)
	rec := s.send(evening(t, make([]float64, 40), 14), obj{})
	for i := range 20 {
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Millisecond)
		r, err := http.NewRequestWithContext(ctx, "GET", fmt.Sprintf("%s/api/v1/recordings/%s/spectrogram?from=%d&to=%d", s.url, rec, 40+i%5, 48+i%5), nil)
		if err != nil {
			t.Fatal(err)
		}
		answer, err := http.DefaultClient.Do(r)
		if err == nil {
			err = answer.Body.Close()
		}
		cancel()
		if err != nil && !errors.Is(err, context.DeadlineExceeded) {
			t.Fatal(err)
		}
	}
	begin := time.Now()
	s.do("GET", "/api/v1/recordings/"+rec+"/clip?from=2&to=3", nil).want(200)
	if d := time.Since(begin); d > 20*time.Second {
		t.Errorf("answered after %v: those who went away are still computed for", d)
	}
}
