package notebook

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tautline/unit"
)

// What was typed comes back letter for letter, however often it is read.
func TestSettingsKeepWhatWasTyped(t *testing.T) {
	first := read(t, good)
	raw, err := json.Marshal(first)
	if err != nil {
		t.Fatal(err)
	}
	if again := read(t, string(raw)); !reflect.DeepEqual(first, again) {
		t.Errorf("came back as %+v", again)
	}
	if !strings.Contains(string(raw), `"22,2 cm"`) || !strings.Contains(string(raw), `"8 7/8 in"`) {
		t.Error(string(raw))
	}
}

// With on every key changes that key alone, and leaves the receiver. A brace
// height that moves ties the draw's readings to the old one; see Carry.
func TestWithChangesOneEntry(t *testing.T) {
	samples := map[reflect.Kind]string{reflect.Int: "7", reflect.Float64: "7", reflect.Bool: "yes", reflect.String: "words"}
	for _, key := range Keys() {
		s := read(t, good)
		text, ok := samples[kindAt(key)]
		if !ok {
			text = quantityText(key)
		}
		next, err := s.With(key, text)
		if err != nil {
			t.Errorf("%s=%s: %v", key, text, err)
			continue
		}
		changes, err := Diff(s, next)
		changes = slices.DeleteFunc(changes, func(d Difference) bool {
			return d.Key == carriedKey && strings.HasPrefix(key, "brace_height.")
		})
		if err != nil || len(changes) != 1 || changes[0].Key != key {
			t.Errorf("%s=%s changed %v, %v", key, text, changes, err)
		}
		if !reflect.DeepEqual(s, read(t, good)) {
			t.Fatalf("%s changed the settings it was asked of", key)
		}
	}
}

// quantityText is something of the right quantity that good does not hold.
func quantityText(key string) string {
	switch {
	case strings.HasSuffix(key, "mass"):
		return "7.77 g"
	case strings.HasSuffix(key, "weight"):
		return "33 lbf"
	case strings.HasSuffix(key, "spine"):
		return "777"
	}
	return "7.77 cm"
}

func TestWithRefuses(t *testing.T) {
	s := read(t, good)
	for _, c := range []struct{ key, text, want string }{
		{"brace_hieght", "21 cm", "did you mean brace_height?"},
		{"lenght", "21 cm", "did you mean draw.length?"},
		{"xyzzyxyzzy", "1", "the settings are arrow_mass"},
		{"brace_height", "21 apples", "apples"},
		{"brace_height", "21", "no unit"},
		{"twists", "many", "number"},
		{"draw.points", "1", "no such setting"},
	} {
		if _, err := s.With(c.key, c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s=%q gave %v, want %q", c.key, c.text, err, c.want)
		}
	}
}

func TestFilesThatCannotBeRead(t *testing.T) {
	for name, c := range map[string]struct{ raw, want string }{
		"empty":         {``, "ends in the middle"},
		"cut off":       {`{"draw":{"length":"28 in"`, "ends in the middle"},
		"not JSON":      {`draw = 28`, "not JSON"},
		"two bows":      {`{"draw":{"length":"28 in","weight":"40 lbf"}} {}`, "one bow in a file"},
		"unknown name":  {`{"draw":{"lenght":"28 in"}}`, "did you mean draw.length?"},
		"a bare number": {`{"draw":{"length":28.50}}`, "draw/length"},
		"a bad unit":    {`{"draw":{"length":"28 ells"}}`, "draw/length"},
		"wrong type":    {`{"string":{"strands":"many"}}`, "strands"},
	} {
		if _, err := ReadSettings([]byte(c.raw)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s gave %v, want %q", name, err, c.want)
		}
	}
}

func TestChangesReadAsWords(t *testing.T) {
	before := read(t, good)
	after := read(t, strings.NewReplacer(`"22,2 cm"`, `"21.5 cm"`, `"length":"25 in"`, `"length":"635 mm"`, `"tiller":"4 mm",`, ``, `"31 lbf"`, `"32 lbf"`, `"turns":3.5`, `"turns":4`).Replace(good))
	after.Tab = "leather"
	changes, err := Diff(before, after)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"brace height: 22,2 cm → 21.5 cm",
		"tiller: no longer noted (was 4 mm)",
		"button turns from the mark: 3.5 → 4",
		"tab: leather (not noted before)",
		"draw–force readings: 50 cm 24 lbf, 60 cm 31 lbf → 50 cm 24 lbf, 60 cm 32 lbf",
	}
	if len(changes) != len(want) {
		t.Fatalf("%v", changes)
	}
	for i, d := range changes {
		if d.String() != want[i] {
			t.Errorf("%q, want %q", d, want[i])
		}
	}
}

// Settings differ from themselves in nothing, and a brace height typed in
// another unit is the same brace height.
func TestDiffIsAboutTheQuantity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := rapid.IntRange(150, 300).Draw(t, "mm")
		var a, b Settings
		a.BraceHeight.Value = Length{Typed: unit.Said(unit.Length(float64(mm))/1000, unit.MM)}
		b.BraceHeight.Value = Length{Typed: unit.Said(unit.Length(float64(mm))/1000, unit.In)}
		if d, _ := Diff(a, b); len(d) > 0 {
			t.Errorf("%v", d)
		}
		b.BraceHeight.Value = Length{Typed: unit.Said(unit.Length(float64(mm+1))/1000, unit.MM)}
		if d, _ := Diff(a, b); len(d) != 1 {
			t.Errorf("a millimetre more gave %v", d)
		}
	})
}
