package shot

import (
	"fmt"
	"math"

	"tautline/bow"
	"tautline/unit"
)

// Shoot braces the bow at the given height, draws it to the design's full draw
// and looses one arrow.
func Shoot(d bow.Design, braceHeight unit.Length, cfg Config) (Result, error) {
	m, err := NewModel(d, cfg)
	if err != nil {
		return Result{}, err
	}
	brace, err := m.Brace(braceHeight)
	if err != nil {
		return Result{}, err
	}
	s, err := NewSimulator(m, brace, cfg)
	if err != nil {
		return Result{}, err
	}
	return s.Run()
}

// NewModel cuts the design's limb the way cfg's model needs it.
func NewModel(d bow.Design, cfg Config) (*bow.Model, error) {
	cfg = cfg.withDefaults()
	if err := cfg.validate(); err != nil {
		return nil, err
	}
	scheme := bow.Refined
	if cfg.Model.plain() {
		scheme = bow.Plain
	}
	return bow.New(d, bow.Options{N: cfg.Links, Scheme: scheme})
}

// Simulator looses arrows from one drawn bow. It owns its working memory and
// is for one goroutine at a time; equal inputs give equal bits whatever the
// number of goroutines.
type Simulator struct {
	cfg    Config
	set    setting
	eng    engine
	ringer engine // for the ringing, if not eng
	dt     float64

	// of the shot under way
	start                  float64 // total energy at release
	steps                  int
	history                *History
	peakForce, peakTension float64
	quiet                  bool // record nothing
}

// NewSimulator prepares shots from the braced state of m (see bow.Model.Brace
// and BraceWithString), drawn to the design's full draw. m must have been cut
// for the model of cfg, as NewModel does.
func NewSimulator(m *bow.Model, brace bow.State, cfg Config) (*Simulator, error) {
	full, err := m.At(brace, m.Design().FullDraw)
	if err != nil {
		return nil, err
	}
	return NewSimulatorAt(m, brace, full, cfg)
}

// NewSimulatorAt is NewSimulator with the drawn state already known.
func NewSimulatorAt(m *bow.Model, brace, full bow.State, cfg Config) (*Simulator, error) {
	cfg = cfg.withDefaults()
	if err := cfg.validate(); err != nil {
		return nil, err
	}
	if err := belongs(m.Chain(), cfg.Model); err != nil {
		return nil, err
	}
	if full.Nock <= brace.Nock || full.Energy <= brace.Energy {
		return nil, &InputError{"full", "the drawn state holds no more energy than the braced one", "a draw of 692 mm from the pivot"}
	}
	s := &Simulator{cfg: cfg, set: newSetting(m, brace, full, cfg)}
	s.choose()
	s.eng.load(s.set.theta)
	s.dt = stableStep(s.eng, &s.set, float64(cfg.Step))
	return s, nil
}

// belongs refuses a chain that the model cannot use.
func belongs(c *bow.Chain, model Model) error {
	if c.N > maxLinks && !model.plain() {
		return &InputError{"Model", fmt.Sprintf("the limb is cut into %d links, the %v model takes %d", c.N, model, maxLinks), "shot.NewModel, which cuts it to fit"}
	}
	if model.plain() && len(c.Contacts) != c.N {
		return &InputError{"Model", fmt.Sprintf("the %v model touches the string at the nodes only, the limb was cut for another", model), "shot.NewModel, which cuts it to fit"}
	}
	return nil
}

// choose makes the engine that cfg asks for.
func (s *Simulator) choose() {
	c := s.cfg
	if c.Model.plain() {
		s.eng = newPlain(s.set, c.Nodes, c.Fraction)
		return
	}
	inner := math.Min(c.Fraction, 1-s.set.wrapped-nodeMargin)
	s.eng = newResolved(s.set, c.Nodes, inner, c.Softening)
	if c.After > 0 && c.Nodes > 0 {
		// segments as long as before, so that the step stays as stable
		shorter := math.Min(c.Fraction, 1-s.set.wrapped-ringMargin)
		nodes := max(1, int(float64(c.Nodes)*shorter/inner))
		s.ringer = newResolved(s.set, nodes, shorter, c.Softening)
	}
}

// Run looses one arrow.
func (s *Simulator) Run() (Result, error) {
	s.begin()
	t, err := s.loose(s.eng)
	if err != nil {
		return Result{}, err
	}
	r := s.report(t)
	if !(r.Audit <= AuditLimit) {
		return Result{}, &ShotError{t, fmt.Sprintf("the energy balance is off by %.2g of the stored energy, so the speed cannot be believed", r.Audit), "a shorter Step"}
	}
	if s.history != nil {
		s.history.Separation = s.history.len() - 1
	}
	if s.cfg.After > 0 {
		if r.Ringing, err = s.ring(t); err != nil {
			return Result{}, err
		}
	}
	r.History = s.history
	return r, nil
}

// begin puts the bow back to full draw and forgets the last shot.
func (s *Simulator) begin() {
	s.eng.load(s.set.theta)
	s.start = s.eng.energies().total()
	s.steps, s.history = 0, nil
	s.peakForce, s.peakTension = 0, 0
	if s.cfg.History {
		s.history = newHistory(int(0.03/s.dt) + int(2*float64(s.cfg.After)/afterStep))
	}
}

// report reads the results off the engine at the instant of separation, the
// energy balance among them (eq. 23).
func (s *Simulator) report(t float64) Result {
	e, at, w := s.eng.energies(), s.eng.sample(), s.set.stored()
	r := Result{
		Model: s.cfg.Model,
		Speed: unit.Speed(-at.speed), Efficiency: e.arrow / w, TimeOnString: unit.Duration(t),
		PastBrace: unit.Length(at.nock - at.riser - s.set.brace),
		Stored:    unit.Energy(w), Arrow: unit.Energy(e.arrow),
		Residual: unit.Energy(e.limbs + e.string - s.set.vBrace),
		Riser:    unit.Energy(e.riser), Hand: unit.Energy(e.hand), Lost: unit.Energy(e.lost),
		PeakForce: unit.Force(s.peakForce), PeakTension: unit.Force(s.peakTension),
		Audit: math.Abs(e.total()-s.start) / w,
		Step:  unit.Duration(s.dt), Steps: s.steps,
	}
	if gap := s.eng.clearance(); gap < -tolerated {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the string seems to pass %.2f mm through the limb below its last node; the speed may be off by a few cm/s", -1e3*gap))
	}
	return r
}
