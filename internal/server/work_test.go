package server

import (
	"context"
	"errors"
	"fmt"
	"testing"
)

// A hearing that came to nothing leaves nothing behind that later costs one that
// was kept.
func TestForgottenHearingsTakeNoPlace(t *testing.T) {
	var h hearings
	first := h.of("first")
	for i := range 3 * mostHearings {
		key := fmt.Sprint(i)
		h.forget(key, h.of(key))
	}
	h.forget("first", &hearing{}) // an older one of its name
	if h.of("first") != first || len(h.order) != 1 {
		t.Errorf("the first is forgotten; %d places are taken", len(h.order))
	}
	for i := range mostHearings {
		h.of(fmt.Sprint(i))
	}
	if h.of("first") == first || len(h.byKey) != mostHearings || len(h.order) != mostHearings {
		t.Errorf("%d hearings are kept, %d places are taken", len(h.byKey), len(h.order))
	}
}

// A piece of a long calculation lets requests go first, but not for ever, and
// one that was given up does not begin.
func TestRequestsGoFirst(t *testing.T) {
	asked := 0
	q := newQueue(2, func() bool { asked++; return asked > 3 })
	end, err := q.turn(t.Context())
	if err != nil || asked < 2 || asked > 4 { // 4, but for a machine that stood still for 0.15 s
		t.Fatalf("it looked %d times, not until nobody was there: %v", asked, err)
	}
	end()
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := q.turn(ctx); err == nil {
		t.Error("given up, it began")
	}
	q.idle = func() bool { return false }
	if end, err = q.turn(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := q.turn(ctx); err == nil {
		t.Error("given up, it began behind another")
	}
	end()
}

// A request that has a seat is one that others let go first; one that stepped
// aside is not.
func TestIdle(t *testing.T) {
	s := &server{keeping: newGate(2, 1), reading: newGate(2, 1)}
	if !s.idle() {
		t.Error("busy with nobody there")
	}
	for _, g := range []*gate{s.keeping, s.reading} {
		if !g.enter(t.Context()) || s.idle() {
			t.Error("somebody has a seat, and nobody is there")
		}
		ctx := context.WithValue(t.Context(), seatKey{}, &seat{gate: g})
		if !stepAside(ctx) || !s.idle() {
			t.Error("who stepped aside still counts")
		}
	}
}

// What is not the numbers' fault is not told as theirs: no room for the work, or
// its end while somebody still waits for it.
func TestNoRoomIsNoFaultOfTheNumbers(t *testing.T) {
	s := &server{}
	for _, c := range []struct {
		err  error
		want int
	}{{busy(), 503}, {fmt.Errorf("a work: %w", context.Canceled), 503}, {fmt.Errorf("a work: %w", context.DeadlineExceeded), 503}, {errors.New("bow: the string is too long"), 422}} {
		if p := s.explain(t.Context(), noPrediction(t.Context(), c.err)); p.Status != c.want || (p.Status == 503) != (p.Code == codeBusy || p.Code == codeTooLong) {
			t.Errorf("%v is told as %d %s", c.err, p.Status, p.Code)
		}
	}
}
