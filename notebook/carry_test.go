package notebook

import "testing"

func TestCarryTiesTheDrawToItsBraceHeight(t *testing.T) {
	read := func(raw string) Settings {
		s, err := ReadSettings([]byte(raw))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	bow := read(`{"draw":{"length":"28 in","weight":"38 lbf"},"brace_height":{"value":"22 cm"}}`)
	set := func(s Settings, key, text string) Settings {
		out, err := s.With(key, text)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	moved := set(bow, "brace_height", "21 cm")
	again := set(moved, "brace_height", "20.5 cm")
	weighed := set(again, "draw_weight", "38.5 lbf")
	button := read(`{"draw":{"length":"28 in","weight":"38 lbf"},"brace_height":{"value":"23 cm","from":"button","button_behind_pivot":"12 mm"}}`)
	for name, c := range map[string]struct{ got, want string }{
		"nothing moved":                 {set(bow, "tiller", "3 mm").Draw.AtBrace.Text, ""},
		"brace moved":                   {moved.Draw.AtBrace.Text, "22 cm"},
		"brace moved twice":             {again.Draw.AtBrace.Text, "22 cm"},
		"weighed again":                 {weighed.Draw.AtBrace.Text, ""},
		"from the button, to the pivot": {set(button, "brace_height", "22 cm").Draw.AtBrace.Text, "218 mm"},
		"a form that leaves it out":     {Carry(moved, read(`{"draw":{"length":"28 in","weight":"38 lbf"},"brace_height":{"value":"21 cm"},"tiller":"2 mm"}`)).Draw.AtBrace.Text, "22 cm"},
		"said by hand":                  {set(moved, "draw.at_brace_height", "21.5 cm").Draw.AtBrace.Text, "21.5 cm"},
	} {
		if c.got != c.want {
			t.Errorf("%s: read at %q, want %q", name, c.got, c.want)
		}
	}
}
