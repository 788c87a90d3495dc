package sound

import "math"

// The shot finder's first stage: above 1 kHz the mean square of 1 ms rises by
// 10 dB within 4 ms. It runs on every sample and is deliberately easy to set
// off; a creak does it too. What set it off is judged later, with its
// surroundings (events.go).
const (
	triggerCorner = 1000.0 // Hz
	hopSeconds    = 0.0005 // half of the 1 ms window
	riseHops      = 8      // 4 ms
	riseDB        = 10.0
	aboveFloorDB  = 8.0   // over the slowly followed background
	silenceDB     = -95.0 // below this a rise is a step of the sample width
)

// trigger is the first stage's state over a stream.
type trigger struct {
	filter cascade
	hop    int // samples
	sum    float64
	count  int
	last   float64 // mean square of the hop before
	levels [riseHops]float64
	n      int64 // hops done
	floor  float64
}

func newTrigger(rate int) *trigger {
	t := &trigger{
		filter: butterworth(4, triggerCorner, float64(rate), true),
		hop:    max(1, int(math.Round(hopSeconds*float64(rate)))),
		floor:  silenceDB,
	}
	for i := range t.levels {
		t.levels[i] = silenceDB
	}
	return t
}

// feed takes the next samples, of which the first has index at, and appends
// the indices at which it went off.
func (t *trigger) feed(x []float64, at int64, found []int64) []int64 {
	f0, f1 := t.filter[0], t.filter[1]
	sum, count := t.sum, t.count
	for i, v := range x {
		v = f1.step(f0.step(v))
		sum += v * v
		if count++; count == t.hop {
			if t.judge(sum / float64(count)) {
				found = append(found, max(0, at+int64(i)+1-int64(2*t.hop)))
			}
			sum, count = 0, 0
		}
	}
	t.filter[0], t.filter[1] = f0, f1
	t.sum, t.count = sum, count
	return found
}

// judge takes the mean square of a finished hop.
func (t *trigger) judge(power float64) bool {
	level := max(decibels((power+t.last)/2), silenceDB)
	t.last = power
	before := t.levels[t.n%riseHops]
	t.levels[t.n%riseHops] = level
	t.n++
	fired := level-before >= riseDB && level >= t.floor+aboveFloorDB
	// the floor climbs slowly and sinks fast towards the lower quartile
	if level > t.floor {
		t.floor += 0.0125
	} else {
		t.floor = max(t.floor-0.0375, level)
	}
	return fired
}
