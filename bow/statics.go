package bow

import (
	"fmt"
	"sync"

	"tautline/unit"
)

// Model is a Design made ready for computing: its limb cut into a Chain. It is
// never changed after New and may be used by many goroutines at once.
type Model struct {
	design  Design
	chain   *Chain
	ea      float64
	solvers sync.Pool
}

// New validates the design and cuts its limb; the zero Options are the
// defaults.
func New(d Design, o Options) (*Model, error) {
	c, err := Discretize(d, o)
	if err != nil {
		return nil, err
	}
	return newModel(d, c), nil
}

// FromChain makes a model from a chain that was written out from arrays and
// that Validate accepts. Of the design only the string, the riser and FullDraw
// are used.
func FromChain(c *Chain, d Design) *Model { return newModel(d, c) }

func newModel(d Design, c *Chain) *Model {
	m := &Model{design: d, chain: c, ea: float64(d.String.EA)}
	m.solvers.New = func() any { return newSolver(m.chain, m.ea) }
	return m
}

// Design returns the description the model was made from.
func (m *Model) Design() Design { return m.design }

// Chain returns the discretised limb, shared and read-only.
func (m *Model) Chain() *Chain { return m.chain }

// borrow hands out a solver with the limb unstressed; give it back with
// m.solvers.Put.
func (m *Model) borrow() *solver {
	s := m.solvers.Get().(*solver)
	s.relax()
	s.iter = 0
	return s
}

// State is one equilibrium of the bow. Forces are those of the whole bow,
// energies those of both limbs and the whole string; lengths of string are
// half of it, as the model is symmetric.
type State struct {
	Theta []float64 // link angles from +y, rad, root first

	Nock       unit.Length // nock's distance from the pivot
	HalfRest   unit.Length // half the string's unstretched length, twisted as it is
	HalfLength unit.Length // half the string's length under tension
	Tension    unit.Force  // string tension
	Force      unit.Force  // draw force at the nock, zero at brace
	Energy     unit.Energy // elastic energy of limbs and string

	TipX, TipY unit.Length // the upper tip
	// First is the contact point (index into Chain.Contacts) where the string
	// from the nock first touches the limb; the last index means the tip
	// alone. Wrapped is the length of string, of one half, beyond it.
	First   int
	Wrapped unit.Length
}

// state copies the solver's equilibrium.
func (s *solver) state() State {
	tip := len(s.px) - 1
	return State{
		Theta: append([]float64(nil), s.theta...),
		Nock:  unit.Length(s.hx), HalfRest: unit.Length(s.l0), HalfLength: unit.Length(s.wrap.Length),
		Tension: unit.Force(s.tension), Force: unit.Force(s.force()), Energy: unit.Energy(2 * s.energy),
		TipX: unit.Length(s.px[tip]), TipY: unit.Length(s.py[tip]),
		First: s.wrap.First, Wrapped: unit.Length(s.wrap.Length - s.wrap.Piece[0]),
	}
}

// force is the draw force F = dV/dx = −2T e_1x (eq. 12).
func (s *solver) force() float64 { return -2 * s.tension * s.wrap.Ex[0] }

// At finds the equilibrium with the nock held at the given distance from the
// pivot, with the string of the braced state. It walks there from brace, as
// the archer's hand does, so that the shape is the one the bow really takes;
// a nock in front of the brace height lets the string down against its pull.
func (m *Model) At(brace State, nock unit.Length) (State, error) {
	if err := m.own(brace); err != nil {
		return State{}, err
	}
	s := m.borrow()
	defer m.solvers.Put(s)
	s.load(brace)
	if err := s.walk(float64(nock)); err != nil {
		return State{}, err
	}
	return s.state(), nil
}

// own refuses a state that is not of this model's chain.
func (m *Model) own(st State) error {
	if len(st.Theta) != m.chain.N || !(st.HalfRest > 0) {
		return &InputError{"brace", fmt.Sprintf("a state of %d links and a half string of %g m is not one of this bow's %d links", len(st.Theta), float64(st.HalfRest), m.chain.N), "a state from this model's Brace"}
	}
	return nil
}

// load puts the solver into a known equilibrium.
func (s *solver) load(st State) {
	copy(s.theta, st.Theta)
	s.hx, s.hy, s.l0 = float64(st.Nock), 0, float64(st.HalfRest)
	s.update()
}

// drawStep is the largest stretch of draw between two equilibria: short enough
// for Newton's method to stay on the branch.
const drawStep = 0.06

// walk draws or lets down from the present equilibrium to nock x.
func (s *solver) walk(x float64) error {
	from := s.hx
	steps := int(abs(x-from)/drawStep) + 1
	for i := 1; i <= steps; i++ {
		if err := s.hold(from+(x-from)*float64(i)/float64(steps), s.l0); err != nil {
			return err
		}
	}
	return nil
}
