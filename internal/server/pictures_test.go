package server_test

import (
	"encoding/json"
	"testing"

	"tautline/internal/figure"
)

// checkPictures holds every picture that the story was answered with: no two of
// its series look alike but for their colour (WCAG 1.4.1), and each says so, so
// that the screen draws what paper does.
func checkPictures(t *testing.T, told []exchange) {
	pictures, series := 0, 0
	for _, e := range told {
		if e.reply.status != 200 || !json.Valid(e.reply.body) {
			continue
		}
		var tree any
		if err := json.Unmarshal(e.reply.body, &tree); err != nil {
			t.Fatal(err)
		}
		figures(tree, func(raw []byte) {
			var f figure.Figure
			if err := json.Unmarshal(raw, &f); err != nil {
				t.Errorf("%s: %v", e.operation, err)
				return
			}
			pictures++
			looks := map[string]string{}
			for _, s := range f.Series {
				series++
				look := string(s.Dash) + "/" + string(s.Shape)
				if other, same := looks[look]; same || look == "/" {
					t.Errorf("%s, %q: %q looks %q, as %q does", e.operation, f.Title, s.Name, look, other)
				}
				looks[look] = s.Name
			}
			if err := f.Validate(); err != nil {
				t.Errorf("%s: %v", e.operation, err)
			}
		})
	}
	if pictures < 15 || series < pictures+8 {
		t.Errorf("only %d pictures with %d series were met", pictures, series)
	}
}

// figures finds the pictures of an answer.
func figures(tree any, each func(raw []byte)) {
	switch n := tree.(type) {
	case []any:
		for _, v := range n {
			figures(v, each)
		}
	case map[string]any:
		if _, drawn := n["series"].([]any); drawn && n["finding"] != nil {
			if raw, err := json.Marshal(n); err == nil {
				each(raw)
			}
			return
		}
		for _, v := range n {
			figures(v, each)
		}
	}
}
