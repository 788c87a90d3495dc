package server

import (
	"testing"

	"tautline/unit"
)

// Sentences in a person's own units: 1 in is 25.4 mm (exact, by definition).
func TestSaid(t *testing.T) {
	comma := unit.Metric()
	comma.Decimal = unit.Comma
	const text = "From 20.4 to 22.86 cm, 9.6 cm at 70 m; the tail passes at 0.6 mm, thrust 1.07 times; by 25.4 to 50.8 mm."
	for _, c := range []struct {
		system unit.System
		want   string
	}{
		{unit.Mixed(), text},
		{comma, "From 20,4 to 22,86 cm, 9,6 cm at 70 m; the tail passes at 0,6 mm, thrust 1,07 times; by 25,4 to 50,8 mm."},
		{unit.Imperial(), "From 8.03 to 9.00 in, 3.78 in at 70 m; the tail passes at 0.024 in, thrust 1.07 times; by 1.000 to 2.000 in."},
	} {
		if got := said(text, c.system); got != c.want {
			t.Errorf("%q, wanted %q", got, c.want)
		}
	}
}
