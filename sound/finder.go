package sound

import "tautline/unit"

const (
	beforeRelease = 0.65 // s of the recording kept before a release
	afterRelease  = 1.68 // s that must have come before a trigger is judged
	ringTime      = 0.25 // s in which what rises after a release belongs to it
	batchTime     = 0.70 // s more to wait, so that triggers are judged in batches
)

// candidate is a trigger waiting to be judged.
type candidate struct {
	at     int64
	traits *traits // once worked out; indices of the scene do not outlive it
}

// find is a release that was found, or set by the user, in its scene.
type find struct {
	release int            // index in the scene
	impacts []impactOption // what may be its impact, in order
	clicker int            // −1: none heard
	traits  traits
	events  []Event // clicker or creak before it

	doubtful bool // without an impact and more like one itself
}

// finder is the shot finder's second stage: it judges triggers in order, each
// once enough of what follows is known.
type finder struct {
	rate    int
	queue   []candidate
	ticks   []candidate // not yet belonging to a release
	recent  []candidate // judged within the last half second
	orphans []int64     // impacts for which no release is known yet
	batch   int64       // triggers before this index can be judged now
	blind   int64       // nothing before this index counts: it belongs to the last shot
	looked  int64       // where an orphaned impact was last looked for
	plans   plans

	earliest, latest float64 // s after a release: when an impact can be heard
}

func (f *finder) samples(seconds float64) int64 { return int64(seconds*float64(f.rate) + 0.5) }

func (f *finder) time(i int64) unit.Duration {
	return unit.Duration(float64(i) / float64(f.rate))
}

// add queues triggers, several within 4 ms as one.
func (f *finder) add(found []int64) {
	for _, at := range found {
		if n := len(f.queue); n > 0 && at-f.queue[n-1].at < f.samples(0.004) {
			continue
		}
		f.queue = append(f.queue, candidate{at: at})
	}
}

// due returns the next trigger to be judged when the recording has reached
// index now, or false. It waits for some more than one trigger needs and then
// gives out all that can be judged: they share their scene.
func (f *finder) due(now int64, final bool) (candidate, bool) {
	for len(f.queue) > 0 && f.queue[0].at < f.blind {
		f.queue = f.queue[1:]
	}
	if len(f.queue) == 0 {
		return candidate{}, false
	}
	c := f.queue[0]
	if c.at >= f.batch {
		if !final && c.at+f.samples(afterRelease+batchTime) > now {
			return candidate{}, false
		}
		f.batch = max(now-f.samples(afterRelease), c.at+1)
	}
	f.queue = f.queue[1:]
	return c, true
}

// consider judges a trigger in its scene. It returns a find for a release and
// the events that are settled either way.
func (f *finder) consider(c candidate, s *scene) (*find, []Event) {
	t, last := f.cluster(&c, s)
	before, after := f.louder(c, s)
	v := judge(t, before, after, c.at < f.samples(0.005))
	if v == isRelease && c.at < f.samples(0.005) && !s.fades(t.at) {
		v = isNothing // the recording was switched on, no more
	}
	f.remember(c)
	f.blind = last + f.samples(0.004)
	switch v {
	case isTick:
		f.ticks = append(f.ticks, c)
		f.lookForOrphan(t.at, s)
		return nil, f.expire(c.at)
	case isNothing:
		return nil, f.expire(c.at)
	}
	expired := f.expire(c.at)
	d := f.shot(t, s)
	d.doubtful = len(d.impacts) == 0 && t.alone() < 0
	return d, expired
}

// lookForOrphan notes an impact after a tick, which may turn out to have no
// release; once in 0.3 s is enough.
func (f *finder) lookForOrphan(tick int, s *scene) {
	at := s.start + int64(tick)
	if at < f.looked+f.samples(0.3) && f.looked > 0 {
		return
	}
	f.looked = at
	options := s.findImpacts(tick, impactFrom, impactTo)
	if i := likeliest(options); i >= 0 {
		f.orphans = append(f.orphans, s.start+int64(s.refine(s.high, options[i].at)))
	}
}

// expire gives up on ticks and impacts that no release claims.
func (f *finder) expire(now int64) (events []Event) {
	ticks, orphans := f.ticks[:0], f.orphans[:0]
	for _, c := range f.ticks {
		if now-c.at <= f.samples(tickTime) {
			ticks = append(ticks, c)
			continue
		}
		events = append(events, Event{At: f.time(c.at), Kind: Noise, Strength: c.traits.strength, Why: "a tick with no release after it"})
	}
	for _, at := range f.orphans {
		if now-at <= f.samples(tickTime) {
			orphans = append(orphans, at)
			continue
		}
		events = append(events, Event{At: f.time(at), Kind: Impact, Why: "a thud with no release before it"})
	}
	f.ticks, f.orphans = ticks, orphans
	return events
}

// cluster works out the traits of the trigger and of those that follow within
// 15 ms, which are one event. Its onset is the first one that is broadband:
// before it something softer may run in, or a creak run out.
func (f *finder) cluster(c *candidate, s *scene) (t traits, last int64) {
	t = f.traits(c, s)
	last = c.at
	for k := range f.queue {
		q := &f.queue[k]
		if q.at > c.at+f.samples(clusterTime) {
			break
		}
		u := f.traits(q, s)
		last = q.at
		switch {
		case u.strength >= t.strength+6, t.flux < leastFlux && u.flux >= leastFlux && u.strength >= t.strength-3:
			t = u
		}
	}
	return t, last
}

func (f *finder) traits(c *candidate, s *scene) traits {
	if c.traits == nil {
		t := s.traitsAt(int(c.at - s.start))
		c.traits = &t
	}
	t := *c.traits
	t.at = int(c.at - s.start)
	return t
}

// louder returns the strength of the loudest trigger of the half second
// before and after, dB.
func (f *finder) louder(c candidate, s *scene) (before, after float64) {
	before, after = -200, -200
	for _, r := range f.recent {
		if r.at > c.at-f.samples(0.5) {
			before = max(before, r.traits.strength)
		}
	}
	for k := range f.queue {
		q := &f.queue[k]
		if q.at > c.at+f.samples(0.5) {
			break
		}
		if q.at > c.at+f.samples(clusterTime) {
			after = max(after, f.traits(q, s).strength)
		}
	}
	return before, after
}

func (f *finder) remember(c candidate) {
	keep := f.recent[:0]
	for _, r := range f.recent {
		if r.at > c.at-f.samples(0.5) {
			keep = append(keep, r)
		}
	}
	f.recent = append(keep, c)
}

// shot completes a release: exact onset, possible impacts, clicker. What
// follows within a quarter of a second belongs to it; a later impact is also
// judged by itself, and the session decides in the end.
func (f *finder) shot(t traits, s *scene) *find {
	d := &find{release: s.alignment(t.at), clicker: -1, traits: t}
	d.impacts = s.findImpacts(d.release, f.earliest, f.latest)
	for i := range d.impacts {
		d.impacts[i].at = s.refine(s.high, d.impacts[i].at)
	}
	end := d.release + s.samples(ringTime)
	if i := likeliest(d.impacts); i >= 0 && d.impacts[i].at < end {
		end = d.impacts[i].at + s.samples(0.08)
	}
	f.blind = max(f.blind, s.start+int64(end))
	f.settleTicks(d, s)
	return d
}

// settleTicks takes the ticks before a release for its clicker if one of them
// stands out, else for a creak.
func (f *finder) settleTicks(d *find, s *scene) {
	release := s.start + int64(d.release)
	var near []candidate
	loudest := -200.0
	for _, c := range f.ticks {
		if gap := release - c.at; gap >= f.samples(leastTick) && gap <= f.samples(tickTime) {
			near = append(near, c)
			loudest = max(loudest, c.traits.strength)
		}
	}
	alike := 0
	for _, c := range near {
		if c.traits.strength >= loudest-6 {
			alike++
		}
	}
	for _, c := range near {
		e := Event{At: f.time(c.at), Kind: Creak, Strength: c.traits.strength, Why: "one of several ticks before a release"}
		if alike == 1 && c.traits.strength == loudest {
			e.Kind, e.Why = Clicker, "a single tick without a low part before a release"
			d.clicker = int(c.at - s.start)
		}
		d.events = append(d.events, e)
	}
	f.ticks, f.orphans = f.ticks[:0], f.orphans[:0]
}
