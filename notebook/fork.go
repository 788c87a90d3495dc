package notebook

import (
	"reflect"
	"slices"
	"strings"
)

// Fork is where the set-ups of a bow went apart: two or more changed the same
// state without knowing of each other. Nothing is lost by it and no clock
// decides; a set-up that names the others in Settles ends it.
type Fork struct {
	Base  ID      // the latest set-up that all sides come from; "" when there is none
	Heads []SetUp // the sides, oldest received first; the last is taken for current
}

// Heads gives the set-ups that no other was made from or settles, oldest
// received first, as setups must be. More than one is a fork. Hidden set-ups
// are taken out of sight: they are no heads, but what comes from them is.
func Heads(setups []SetUp, hidden map[ID]bool) (heads []SetUp) {
	passed := map[ID]bool{}
	for _, s := range slices.Backward(setups) {
		if !hidden[s.ID] {
			heads = append(heads, s)
		}
		if passed[s.ID] || !hidden[s.ID] { // a hidden one counts only as a link to what is seen
			passed[s.Parent] = true
			for _, other := range s.Settles {
				passed[other] = true
			}
		}
	}
	heads = slices.DeleteFunc(heads, func(s SetUp) bool { return passed[s.ID] })
	slices.Reverse(heads)
	return heads
}

// FindFork gives the fork of a bow's set-ups, oldest received first; ok is
// false without one.
func FindFork(setups []SetUp, hidden map[ID]bool) (f Fork, ok bool) {
	f.Heads = Heads(setups, hidden)
	if len(f.Heads) < 2 {
		return Fork{}, false
	}
	byID := map[ID]SetUp{}
	for _, s := range setups {
		byID[s.ID] = s
	}
	shared := ancestors(f.Heads[0], byID)
	for _, h := range f.Heads[1:] {
		these := ancestors(h, byID)
		for id := range shared {
			if !these[id] {
				delete(shared, id)
			}
		}
	}
	for _, s := range slices.Backward(setups) {
		if shared[s.ID] {
			f.Base = s.ID
			break
		}
	}
	return f, true
}

// ancestors are the set-ups that one comes from, itself included.
func ancestors(of SetUp, byID map[ID]SetUp) map[ID]bool {
	seen, todo := map[ID]bool{}, []ID{of.ID}
	for len(todo) > 0 {
		id := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		s, known := byID[id]
		if seen[id] || !known {
			continue
		}
		seen[id] = true
		todo = append(append(todo, s.Parent), s.Settles...)
	}
	return seen
}

// Clash is one entry that sides of a fork changed to different values.
type Clash struct {
	Key   string
	Texts []string // by side, "" where it is no longer noted
}

// Merge gives the settings with every side's changes from base in them, and
// the entries that cannot be merged because sides changed them to different
// values: these stay as the last side has them.
func Merge(base Settings, sides []Settings) (Settings, []Clash, error) {
	changed := make([]map[string]Difference, len(sides))
	var keys []string
	for i, side := range sides {
		list, err := Diff(base, side)
		if err != nil {
			return Settings{}, nil, err
		}
		changed[i] = map[string]Difference{}
		for _, d := range list {
			if changed[i][d.Key] = d; d.Key != carriedKey && !slices.Contains(keys, d.Key) {
				keys = append(keys, d.Key)
			}
		}
	}
	last := len(sides) - 1
	out := sides[last]
	var clashes []Clash
	for _, key := range keys {
		from, clash := whoChanged(key, changed, sides)
		switch {
		case clash:
			clashes = append(clashes, clashOf(key, sides))
		case from != last:
			var err error
			if out, err = out.taking(key, sides[from]); err != nil {
				return out, clashes, err
			}
		}
	}
	return Carry(sides[last], out), clashes, nil
}

// whoChanged gives the last side that changed an entry, and whether another
// changed it to something else.
func whoChanged(key string, changed []map[string]Difference, sides []Settings) (from int, clash bool) {
	from = -1
	for i := range changed {
		if _, ok := changed[i][key]; !ok {
			continue
		}
		if from >= 0 && !flat(sides[from])[key].same(flat(sides[i])[key]) {
			clash = true
		}
		from = i
	}
	return from, clash
}

func clashOf(key string, sides []Settings) Clash {
	c := Clash{Key: key}
	for _, side := range sides {
		c.Texts = append(c.Texts, flat(side)[key].text)
	}
	return c
}

// taking gives the settings with one entry as another has it.
func (s Settings) taking(key string, from Settings) (Settings, error) {
	to := reflect.ValueOf(&s).Elem()
	of := reflect.ValueOf(from)
	for part := range strings.SplitSeq(key, ".") {
		i := fieldNamed(to.Type(), part)
		if i < 0 {
			return s, noSetting(key, nil)
		}
		to, of = to.Field(i), of.Field(i)
	}
	to.Set(of)
	return s, nil
}

// fieldNamed finds a structure's field by its JSON name; -1 for none.
func fieldNamed(t reflect.Type, name string) int {
	for i := range t.NumField() {
		if n, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ","); n == name {
			return i
		}
	}
	return -1
}
