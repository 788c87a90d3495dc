package sound

import (
	"context"
	"io"
	"math"
	"sort"

	"tautline/unit"
)

// Listen finds the shots of a recording and measures them. It reads r once,
// forward, in small blocks, and keeps no more than the last three seconds of
// sound. It returns ctx's error when ctx ends, and a [FileError] for what is
// no sound file or breaks the limits; then nothing of the Hearing counts.
func Listen(ctx context.Context, r io.Reader, c Config) (Hearing, error) {
	c, err := c.withDefaults()
	if err != nil {
		return Hearing{}, err
	}
	stream, err := Open(ctx, r, c.Limits)
	if err != nil {
		return Hearing{}, err
	}
	defer stream.Close() // only read
	l := newListener(stream, c)
	buf := make([]float64, blockFrames*stream.Channels())
	for {
		n, err := stream.Read(buf)
		l.take(buf[:n*stream.Channels()])
		if err == io.EOF {
			return l.finish(), nil
		}
		if err != nil {
			return Hearing{}, err
		}
	}
}

// listener is one run over a recording.
type listener struct {
	config  Config
	stream  *Stream
	rate    int
	mix     mixer
	past    *history
	trigger *trigger
	finder  *finder
	measure measurer
	fixes   []fix
	found   []found
	clips   int   // kept
	usual   habit // of the last shots,
	usualAt int   // when there were so many
	events  []Event
	peak    float64
	clipped int
	view    overviewer
	told    unit.Duration // progress
	fired   []int64
	around  *scene // of the last trigger judged
}

// found is a shot with what decides at the end whether it stays.
type found struct {
	shot     Shot
	options  []unit.Duration // when its impact may be
	fallback int             // the option taken without a habit; −1: none
	clip     Clip            // kept while the session's habit may still move the impact
	doubtful bool
	manual   bool
	dropped  string // why it is no shot after all

	impactLike bool
	traits     traits
}

// maxClips is how many shots with a doubtful impact keep their sound to the
// end: those before the session's habit shows.
const maxClips = 12

// historyTime is how much sound is kept: what a scene needs and what may have
// come since, so that triggers close to each other share a scene.
const historyTime = beforeRelease + afterRelease + batchTime + 0.1 // s

func newListener(s *Stream, c Config) *listener {
	rate, p := s.SampleRate(), plans{}
	earliest, latest := c.flight()
	l := &listener{
		config: c, stream: s, rate: rate,
		mix:     mixer{channels: s.Channels(), choice: c.Channel},
		past:    newHistory(int(historyTime*float64(rate)) + blockFrames),
		trigger: newTrigger(rate),
		finder:  &finder{rate: rate, plans: p, earliest: earliest, latest: latest},
		measure: measurer{rate: rate, window: float64(c.Window), plans: p, modes: !c.SkipModes},
		view:    newOverviewer(rate),
	}
	for _, k := range c.Corrections {
		l.fixes = append(l.fixes, fix{Correction: k})
	}
	sort.SliceStable(l.fixes, func(i, j int) bool { return fixTime(l.fixes[i]) < fixTime(l.fixes[j]) })
	return l
}

// take works on the next block of interleaved samples.
func (l *listener) take(frames []float64) {
	if len(frames) == 0 {
		return
	}
	for _, v := range frames {
		a := math.Abs(v)
		if a > l.peak {
			l.peak = a
		}
		if a >= fullScale {
			l.clipped++
		}
	}
	mono := l.mix.mono(frames)
	l.view.take(mono)
	l.fired = l.trigger.feed(mono, l.past.next, l.fired[:0])
	l.finder.add(l.fired)
	l.past.push(mono)
	l.settle(false)
	if done := l.stream.Position(); l.config.Progress != nil && done-l.told >= 1 {
		l.told = done
		l.config.Progress(done, l.stream.Promised())
	}
}

// settle judges what can be judged by now.
func (l *listener) settle(final bool) {
	for {
		c, ok := l.finder.due(l.past.next, final)
		l.addMissed(c.at, ok, final)
		if !ok {
			l.around = nil
			return
		}
		s := l.scene(c.at)
		find, events := l.finder.consider(c, s)
		l.events = append(l.events, events...)
		if find != nil {
			l.keep(find, s)
		}
	}
}

// scene returns the surroundings of a trigger; the last ones made serve again
// if they reach far enough.
func (l *listener) scene(at int64) *scene {
	n := l.finder.samples
	from, to := max(at-n(beforeRelease), 0), min(at+n(afterRelease), l.past.next)
	if s := l.around; s == nil || s.start > from || s.start+int64(len(s.x)) < to {
		x, start := l.past.slice(from, l.past.next)
		l.around = newScene(x, start, l.rate, l.measure.plans)
	}
	return l.around
}

// keep measures a release that was found, with the user's correction if there
// is one.
func (l *listener) keep(d *find, s *scene) {
	at := func(i int) unit.Duration { return l.finder.time(s.start + int64(i)) }
	auto := at(d.release)
	f := found{traits: d.traits, doubtful: d.doubtful, fallback: likeliest(d.impacts)}
	for _, o := range d.impacts {
		f.options = append(f.options, at(o.at))
	}
	f.shot = Shot{Release: auto, AutoRelease: &auto, Strength: d.traits.strength}
	if d.clicker >= 0 {
		click := at(d.clicker)
		f.shot.Clicker, f.shot.AutoClicker = &click, &click
	}
	f.land(l.habit())
	if k := l.fixFor(auto); k != nil {
		k.used = true
		f.correct(k.Correction)
	} else if l.addedNear(auto) {
		return
	}
	l.events = append(l.events, d.events...)
	l.record(f)
}

// habit is what the last shots have in common, worked out anew now and then.
func (l *listener) habit() habit {
	const last, often = 80, 10
	if n := len(l.found); n <= often || n >= l.usualAt+often {
		l.usual, l.usualAt = habitOf(l.found[max(0, n-last):]), n
	}
	return l.usual
}

// record measures a shot and stores it.
func (l *listener) record(f found) {
	if !f.shot.Deleted {
		n := l.finder.samples
		at := int64(math.Round(float64(f.shot.Release) * float64(l.rate)))
		x, start := l.past.slice(at-n(beforeRelease), at+n(maxWindow))
		clip := Clip{Rate: l.rate, Start: l.finder.time(start), Samples: x}
		l.measure.shot(&f.shot, clip)
		if len(f.options) > 1 && l.clips < maxClips {
			f.clip = clip
			l.clips++
		}
	}
	l.found = append(l.found, f)
}

// finish judges what was waiting for more and puts the hearing together.
func (l *listener) finish() Hearing {
	l.settle(true)
	l.events = append(l.events, l.finder.expire(math.MaxInt64/2)...)
	h := Hearing{
		Format: l.stream.Format(), SampleRate: l.rate, Channels: l.stream.Channels(), Bits: l.stream.Bits(),
		Duration: l.stream.Position(), Peak: max(20*math.Log10(l.peak), -200), Clipped: l.clipped,
		Overview: l.view.done(), Events: l.events,
	}
	for _, f := range l.settleDoubts() {
		f.shot.Number = len(h.Shots) + 1
		h.Shots = append(h.Shots, f.shot)
	}
	for _, f := range l.found {
		h.Events = append(h.Events, f.events()...)
	}
	sort.SliceStable(h.Shots, func(i, j int) bool { return h.Shots[i].Release < h.Shots[j].Release })
	for i := range h.Shots {
		h.Shots[i].Number = i + 1
	}
	sort.SliceStable(h.Events, func(i, j int) bool { return h.Events[i].At < h.Events[j].At })
	h.Warnings = l.warnings(h)
	return h
}
