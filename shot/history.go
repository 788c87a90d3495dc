package shot

import "tautline/unit"

func newHistory(room int) *History {
	lengths := func() []unit.Length { return make([]unit.Length, 0, room) }
	forces := func() []unit.Force { return make([]unit.Force, 0, room) }
	return &History{
		Time: make([]unit.Duration, 0, room), Nock: lengths(), Speed: make([]unit.Speed, 0, room),
		Force: forces(), Tension: forces(), TipX: lengths(), TipY: lengths(), Half: lengths(),
		RiserX: lengths(), ArrowAcc: make([]float64, 0, room),
	}
}

// len is the number of entries; a history not kept has none.
func (h *History) len() int {
	if h == nil {
		return 0
	}
	return len(h.Time)
}

// truncate drops all but the first n entries.
func (h *History) truncate(n int) {
	if h == nil {
		return
	}
	for _, v := range []*[]unit.Length{&h.Nock, &h.TipX, &h.TipY, &h.Half, &h.RiserX} {
		*v = (*v)[:n]
	}
	h.Time, h.Speed, h.Force, h.Tension, h.ArrowAcc = h.Time[:n], h.Speed[:n], h.Force[:n], h.Tension[:n], h.ArrowAcc[:n]
}

// record notes the engine's state at time t: the peaks always, the rest if
// asked for.
func (s *Simulator) record(e engine, t float64) {
	if s.quiet {
		return
	}
	force := e.push()
	s.peakForce = max(s.peakForce, force)
	s.peakTension = max(s.peakTension, e.tension())
	if s.history == nil {
		return
	}
	at, h := e.sample(), s.history
	h.Time = append(h.Time, unit.Duration(t))
	h.Nock = append(h.Nock, unit.Length(at.nock))
	h.Speed = append(h.Speed, unit.Speed(at.speed))
	h.Force = append(h.Force, unit.Force(force))
	h.Tension = append(h.Tension, unit.Force(at.tension))
	h.TipX = append(h.TipX, unit.Length(at.tipX))
	h.TipY = append(h.TipY, unit.Length(at.tipY))
	h.Half = append(h.Half, unit.Length(at.half))
	h.RiserX = append(h.RiserX, unit.Length(at.riser))
	h.ArrowAcc = append(h.ArrowAcc, force/s.set.arrow)
}
