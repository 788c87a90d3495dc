package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// gestures are what a cold thumb or a keyboard cannot do: hovering, dragging,
// pressing long, a second button, two fingers.
var gestures = regexp.MustCompile(`\bon(?:Mouse|Pointer|Touch|Drag|Drop|ContextMenu|DblClick|AuxClick|Wheel|Gesture)\w*=|addEventListener\("(?:mouse|pointer|touch|drag|drop|contextmenu|dblclick|auxclick|wheel|gesture)\w*"|:hover|draggable`)

// answered are the places that listen for one, and what does the same without.
var answered = map[string]string{
	"ui/undobar.tsx":   "the time stands still under a pointer; the focus does the same, and Undo is a button",
	"ui/chart.tsx":     "a value is read by a touch; the arrow keys and the table behind it give it too",
	"target/stack.tsx": "a place is chosen by a touch; the slider beside it does the same",
	"sound/editor.tsx": "a held button repeats; each press is one step",
	"sound/wave.tsx":   "a stretch is chosen by a drag; the buttons and keys choose it too",
	"group/board.tsx":  "an arrow is placed by a touch that may slide; lifting at once does, and so do the arrow keys",
}

// TestNoGestureIsNeeded reads every source of the pages: nothing may need
// hovering, dragging, a long press or two fingers (bars.md, U13). A new place
// that listens for one says here what does the same without.
func TestNoGestureIsNeeded(t *testing.T) {
	const src = "../src"
	met := map[string]bool{}
	err := filepath.WalkDir(src, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.Contains(".ts .tsx .css", filepath.Ext(path)) {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(src, path)
		if found := gestures.Find(text); found != nil {
			if met[name] = true; answered[name] == "" {
				t.Errorf("%s listens for %s: what does the same for a thumb with gloves and a keyboard?", name, found)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for name := range answered {
		if !met[name] {
			t.Errorf("%s listens for no gesture any more", name)
		}
	}
}
