package notebook

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"
)

// linked are ends in the order of receipt: "c>b" puts b right.
func linked(text string) (out []End) {
	for i, w := range strings.Fields(text) {
		id, to, _ := strings.Cut(w, ">")
		out = append(out, End{Stamp: Stamp{ID: ID(id), Received: time.Unix(int64(i), 0)}, Corrects: ID(to)})
	}
	return out
}

// heldEnds is a store of which some ends were taken back: Get finds them.
type heldEnds struct {
	Records[End]
	list []End
}

func (h heldEnds) Get(_ context.Context, _, id ID) (End, error) {
	if i := slices.IndexFunc(h.list, func(e End) bool { return e.ID == id }); i >= 0 {
		return h.list[i], nil
	}
	return End{}, &Error{Code: NotFound}
}

// A record stands once, however often and by whomever it was put right: the
// correction received last counts, and one of a correction that was taken back
// is one of the first record.
func TestARecordStandsOnce(t *testing.T) {
	for _, row := range []struct{ held, taken, stand string }{
		{"a b", "", "a b"},
		{"a b>a", "", "b"},
		{"a b>a c>b", "", "c"},
		{"a b>a c>a", "", "c"},     // two devices
		{"a z>a c>a", "", "c"},     // received last, whatever the ids
		{"a b>a c>a d>b", "", "d"}, // and one of them once more
		{"a b>a d>b c>a", "", "c"},
		{"a b>a c>b", "b", "c"}, // through the one taken back
		{"a b>a c>b d>c", "b c", "d"},
		{"a b>a c>a", "c", "b"},
		{"a b>a c>a", "b c", "a"},
		{"a b>a", "a", "b"},
		{"b>gone c>gone", "", "c"}, // what they correct is not in sight
		{"a b>a x y>x", "", "b y"},
	} {
		held := linked(row.held)
		list := slices.DeleteFunc(slices.Clone(held), func(e End) bool { return slices.Contains(strings.Fields(row.taken), string(e.ID)) })
		if err := ThroughTaken(t.Context(), heldEnds{list: held}, "", list, list); err != nil {
			t.Fatal(err)
		}
		var stand []string
		for _, e := range Standing(list) {
			stand = append(stand, string(e.ID))
		}
		if got := strings.Join(stand, " "); got != row.stand {
			t.Errorf("of %q without %q stand %q, want %q", row.held, row.taken, got, row.stand)
		}
	}
	atOnce := linked("a c>a b>a")
	for i := range atOnce {
		atOnce[i].Received = time.Time{}
	}
	if got := Standing(atOnce); len(got) != 1 || got[0].ID != "c" || Replaced(atOnce)["b"] != "c" || Replaced(atOnce)["a"] != "c" {
		t.Errorf("of two received at once: %+v", got)
	}
	if got := Standing([]Bow{{Stamp: Stamp{ID: "a"}}}); len(got) != 1 {
		t.Errorf("a bow puts nothing right: %+v", got)
	}
}
