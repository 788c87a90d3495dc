package sound_test

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
	"tautline/unit"
)

func at(t float64) *unit.Duration {
	d := unit.Duration(t)
	return &d
}

// What the user moves, adds or strikes out is measured anew, and what was
// found stays beside it.
func TestCorrections(t *testing.T) {
	c := soundtest.Config{Seed: 3, Duration: 14, Noise: soundtest.Noise{Pink: 0.001}}
	for i := range 4 {
		c.Shots = append(c.Shots, soundtest.Shot{Release: unit.Duration(2 + 3*i), Impact: 0.12})
	}
	x := soundtest.Synthesise(c)
	auto := listen(t, x, 48000, sound.Config{SkipModes: true})
	if len(auto.Shots) != 4 {
		t.Fatalf("%d shots, want 4", len(auto.Shots))
	}
	first, second, third := auto.Shots[0], auto.Shots[1], auto.Shots[2]
	moved := first.Release + 0.004
	h := listen(t, x, 48000, sound.Config{SkipModes: true, Corrections: []sound.Correction{
		{Auto: &first.Release, Release: &moved},
		{Auto: &second.Release, NoShot: true},
		{Auto: &third.Release, Impact: at(8.09), Clicker: at(7.8)},
		{Release: at(3.5)},
		{Auto: at(13.5), Release: at(13.4)},
	}})
	if len(h.Shots) != 5 {
		t.Fatalf("%d shots, want 5: four found and one added", len(h.Shots))
	}
	a, added, b, d := h.Shots[0], h.Shots[1], h.Shots[2], h.Shots[3]
	if a.Release != moved || *a.AutoRelease != first.Release || !a.Corrected || a.Deleted {
		t.Errorf("moved: %+v", a)
	}
	if a.Attack == first.Attack || !a.Attack.OK {
		t.Errorf("moved onset was not measured anew: attack %v, was %v", a.Attack, first.Attack)
	}
	if added.Release != 3.5 || added.AutoRelease != nil || !added.Corrected {
		t.Errorf("added: %+v", added)
	}
	if added.Exposure.OK {
		t.Errorf("there is only noise at 3.5 s, yet a level of %v came out", added.Exposure)
	}
	if !b.Deleted || *b.AutoRelease != second.Release {
		t.Errorf("struck out: %+v", b)
	}
	if *d.Impact != 8.09 || math.Abs(float64(*d.AutoImpact)-8.12) > 0.005 || math.Abs(float64(d.Window)-0.087) > 0.001 {
		t.Errorf("impact moved: %v (found %v), window %v", *d.Impact, *d.AutoImpact, d.Window)
	}
	if d.Clicker == nil || *d.Clicker != 7.8 || d.AutoClicker != nil {
		t.Errorf("clicker added by hand: %v, found %v", d.Clicker, d.AutoClicker)
	}
	if len(h.Measured()) != 4 {
		t.Errorf("%d shots count, want 4", len(h.Measured()))
	}
	if len(h.Warnings) != 1 || !strings.Contains(h.Warnings[0], "13.400") {
		t.Errorf("warnings %q, want one about the correction that fits nothing", h.Warnings)
	}
	// what was not touched must not change
	if h.Shots[4].Exposure != auto.Shots[3].Exposure {
		t.Errorf("an untouched shot changed from %v to %v", auto.Shots[3].Exposure, h.Shots[4].Exposure)
	}
}

func TestCorrectionsAreChecked(t *testing.T) {
	for name, k := range map[string]sound.Correction{
		"nothing named":    {},
		"negative":         {Release: at(-1)},
		"not a number":     {Release: at(math.NaN())},
		"impact before":    {Release: at(2), Impact: at(1.9)},
		"clicker after":    {Release: at(2), Clicker: at(2.1)},
		"struck out blind": {NoShot: true, Release: at(2)},
	} {
		_, err := sound.Listen(t.Context(), strings.NewReader(""), sound.Config{Corrections: []sound.Correction{k}})
		if sound.ErrorCode(err) != sound.CodeConfig || !strings.Contains(err.Error(), "corrections[0]") {
			t.Errorf("%s: got %v", name, err)
		}
	}
	if _, err := sound.Listen(t.Context(), strings.NewReader(""), sound.Config{Window: 3}); sound.ErrorCode(err) != sound.CodeConfig {
		t.Errorf("window of 3 s: %v", err)
	}
}

// A hearing is stored and printed as JSON: plain numbers under the names that
// issue 4 lists, null with a reason where nothing is measurable, and all of it
// comes back.
func TestHearingAsJSON(t *testing.T) {
	h := hear(t, "wesnoth-crossbow.wav")
	b, err := json.Marshal(h)
	if err != nil {
		t.Fatal(err)
	}
	var loose struct {
		SampleRate int      `json:"sample_rate_hz"`
		Warnings   []string `json:"warnings"`
		Shots      []map[string]any
	}
	if err := json.Unmarshal(b, &loose); err != nil {
		t.Fatal(err)
	}
	if loose.SampleRate != 44100 || len(loose.Shots) != 1 {
		t.Fatalf("%+v", loose)
	}
	s := loose.Shots[0]
	for _, name := range []string{"release_s", "impact_s", "exposure_db_rel", "peak_db_rel", "attack_ratio", "centroid_hz", "clipped"} {
		if _, ok := s[name].(float64); !ok {
			t.Errorf("%s is %v, want a number", name, s[name])
		}
	}
	if v, there := s["decay_early_s"]; v != nil || !there {
		t.Errorf("decay_early_s is %v, want null: the sound does not fall before the impact", v)
	}
	if r, ok := s["reasons"].(map[string]any); !ok || r["decay_early_s"] == "" {
		t.Errorf("reasons are %v", s["reasons"])
	}
	var back sound.Hearing
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	h.Overview = sound.Overview{} // not kept
	if !reflect.DeepEqual(h, back) {
		t.Errorf("it came back changed:\n%+v\n%+v", h, back)
	}
}

func TestModeAsJSON(t *testing.T) {
	m := sound.Mode{Frequency: sound.Measure{Value: 63, SD: 0.5, OK: true}, Damping: sound.Measure{Why: "only 4 cycles were heard"}, Cycles: 4}
	b, err := json.Marshal([]sound.Mode{m})
	want := `[{"agreement":0,"cycles":4,"damping_ratio":null,"frequency_hz":63,"level_db_rel":null,"reasons":{"damping_ratio":"only 4 cycles were heard"},"sd_frequency_hz":0.5}]`
	if err != nil || string(b) != want {
		t.Errorf("%s, %v; want %s", b, err, want)
	}
}

// A stereo recording whose channels cancel is no silence.
func TestChannels(t *testing.T) {
	mono := soundtest.Synthesise(soundtest.Config{Seed: 1, Shots: []soundtest.Shot{{Release: 0.8, Impact: 0.12}}, Noise: soundtest.Noise{Pink: 0.001}})
	var stereo []float64
	for _, v := range mono {
		stereo = append(stereo, v, -v)
	}
	var b strings.Builder
	if err := sound.EncodeWaveLayout(&b, stereo, sound.WaveLayout{Rate: 48000, Channels: 2, Bits: 16}); err != nil {
		t.Fatal(err)
	}
	h, err := sound.Listen(t.Context(), strings.NewReader(b.String()), sound.Config{})
	if err != nil || len(h.Shots) != 0 || !strings.Contains(strings.Join(h.Warnings, " "), "cancel") {
		t.Errorf("mixed: %d shots, %q, %v", len(h.Shots), h.Warnings, err)
	}
	for _, c := range []sound.Channel{sound.Left, sound.Right} {
		h, err := sound.Listen(t.Context(), strings.NewReader(b.String()), sound.Config{Channel: c})
		if err != nil || len(h.Shots) != 1 {
			t.Errorf("channel %d: %d shots, %v", c, len(h.Shots), err)
		}
	}
}
