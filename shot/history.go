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

// record notes the engine's state: the peaks always, the rest if asked for.
func (s *Simulator) record(t float64, attached bool) {
	if attached {
		s.peakForce = max(s.peakForce, s.eng.push())
		s.peakTension = max(s.peakTension, s.eng.tension())
	}
	if s.history == nil {
		return
	}
	at := s.eng.sample()
	acc := 0.0
	if attached {
		acc = -at.acc
	}
	h := s.history
	h.Time = append(h.Time, unit.Duration(t))
	h.Nock = append(h.Nock, unit.Length(at.nock))
	h.Speed = append(h.Speed, unit.Speed(at.speed))
	h.Force = append(h.Force, unit.Force(s.set.arrow*acc))
	h.Tension = append(h.Tension, unit.Force(at.tension))
	h.TipX = append(h.TipX, unit.Length(at.tipX))
	h.TipY = append(h.TipY, unit.Length(at.tipY))
	h.Half = append(h.Half, unit.Length(at.half))
	h.RiserX = append(h.RiserX, unit.Length(at.riser))
	h.ArrowAcc = append(h.ArrowAcc, acc)
}
