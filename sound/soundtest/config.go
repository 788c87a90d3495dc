package soundtest

import "tautline/unit"

// Config describes one invented recording. The zero value of a field means
// its default; times are from the start of the recording.
type Config struct {
	Rate     int           // Hz; default 48000
	Duration unit.Duration // default 1 s after the last shot
	Shots    []Shot
	Others   []Other // what else is heard on a range
	Noise    Noise
	Room     Room
	Seed     uint64 // same seed, same recording
}

// Shot is one shot. Levels are in dB re the release burst's.
type Shot struct {
	Release unit.Duration // when the string comes to rest: the start of the burst
	Level   float64       // of the whole shot, dB; 0 gives the burst a peak of about 0.5
	Attack  unit.Duration // rise of the burst; default 1.5 ms, usual 0.5–5 ms
	Decay   unit.Duration // amplitude time constant of the burst; default 9 ms
	String  float64       // level of the ringing string, dB; default −12
	Modes   []Mode        // limbs, riser, stabilisers; nil: none
	Slip    float64       // level of the string leaving the fingers 14 ms before, dB; default −30

	Clicker unit.Duration   // how long before the release the clicker falls; 0: no clicker
	Impact  unit.Duration   // how long after the release the arrow is heard to land; 0: not heard
	Thud    float64         // level of the impact, dB; default −3
	Creaks  []unit.Duration // how long before the release the limbs or the string tick
}

// OtherKind names a sound that is no shot.
type OtherKind int

// Sounds that are no shots.
const (
	Voice  OtherKind = iota // a vowel of 0.2 s with a soft start
	Step                    // a foot on gravel: a thud and a short crunch
	Clap                    // two hands: a broadband burst of 3 ms
	Rattle                  // arrows in a quiver: five ticks within 0.3 s
	Bird                    // a chirp between 3 and 6 kHz
)

// Other is a sound that is no shot.
type Other struct {
	At    unit.Duration
	Kind  OtherKind
	Level float64 // dB re the burst of a shot at Level 0; usual −20 to −5
}

// Mode is one damped vibration: Amplitude·e^(−2πζft)·sin(2πf√(1−ζ²)·t + Phase).
type Mode struct {
	Frequency float64    // undamped, Hz; usual 20–600
	Damping   float64    // ratio ζ; usual 0.005–0.05
	Amplitude float64    // re full scale at Level 0
	Phase     unit.Angle // at the release
}

// Noise is what a microphone hears outdoors: pink noise and wind gusts below
// some 100 Hz that come and go.
type Noise struct {
	Pink float64 // r.m.s., full scale 1; 0: none
	Wind float64 // r.m.s. of the gusts; 0: none
}

// Room is an exponential reverberation behind everything but the noise.
type Room struct {
	T60   unit.Duration // time to fall by 60 dB; 0: outdoors, no room
	Level float64       // dB of the reverberation's energy re the direct sound's; default −10
}

func (c Config) withDefaults() Config {
	orDefault(&c.Rate, 48000)
	orDefault(&c.Room.Level, -10)
	shots := make([]Shot, len(c.Shots))
	end := unit.Duration(0)
	for i, s := range c.Shots {
		orDefault(&s.Attack, 1.5*unit.Millisecond)
		orDefault(&s.Decay, 9*unit.Millisecond)
		orDefault(&s.String, -12)
		orDefault(&s.Slip, -30)
		orDefault(&s.Thud, -3)
		shots[i] = s
		end = max(end, s.Release+s.Impact)
	}
	c.Shots = shots
	for _, o := range c.Others {
		end = max(end, o.At)
	}
	orDefault(&c.Duration, end+1)
	return c
}

func orDefault[T comparable](field *T, value T) {
	var zero T
	if *field == zero {
		*field = value
	}
}
