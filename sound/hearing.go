package sound

import (
	"fmt"
	"math"

	"tautline/unit"
)

// Hearing is all that was heard in one recording.
type Hearing struct {
	Format     Format        `json:"format"`
	SampleRate int           `json:"sample_rate_hz"`
	Channels   int           `json:"channels"`
	Bits       int           `json:"bits"` // as stored; 0 for a lossy format
	Duration   unit.Duration `json:"duration_s"`
	Peak       float64       `json:"peak_db_rel"` // largest sample of all channels, dB; −200 for silence
	Clipped    int           `json:"clipped"`     // samples at full scale, all channels
	Shots      []Shot        `json:"shots"`
	Events     []Event       `json:"events"` // everything that rose suddenly, in order
	Overview   Overview      `json:"-"`      // the waveform in coarse steps, for a picture
	Warnings   []string      `json:"warnings"`
}

// Measured returns the shots that count: those not struck out by hand.
func (h Hearing) Measured() []Shot {
	var shots []Shot
	for _, s := range h.Shots {
		if !s.Deleted {
			shots = append(shots, s)
		}
	}
	return shots
}

// Overview is the waveform as its least and largest values in equal steps of
// 5 ms: small enough to keep for half an hour, fine enough to see a shot.
type Overview struct {
	Step     unit.Duration
	Min, Max []float32
}

const overviewStep = 0.005 // s

// Envelope returns the overview between two times in at most bins steps, for
// drawing.
func (o Overview) Envelope(from, to unit.Duration, bins int) Overview {
	if o.Step <= 0 || bins < 1 || to <= from {
		return Overview{Step: o.Step}
	}
	a := max(0, min(len(o.Min), int(math.Floor(float64(from/o.Step)))))
	b := max(a, min(len(o.Min), int(math.Ceil(float64(to/o.Step)))))
	per := max(1, (b-a+bins-1)/bins)
	out := Overview{Step: o.Step * unit.Duration(per)}
	for i := a; i < b; i += per {
		lo, hi := o.Min[i], o.Max[i]
		for k := i + 1; k < min(i+per, b); k++ {
			lo, hi = min(lo, o.Min[k]), max(hi, o.Max[k])
		}
		out.Min, out.Max = append(out.Min, lo), append(out.Max, hi)
	}
	return out
}

// Conditions are what must be the same for levels to be comparable.
type Conditions struct {
	Device       string      `json:"device"`          // phone or recorder, and program
	Place        string      `json:"place"`           // where, indoors or out
	Position     string      `json:"position"`        // of the microphone: "1.5 m left of the archer, on the ground"
	Gain         string      `json:"gain"`            // of the recording, as its program names it
	AutoGain     bool        `json:"auto_gain"`       // automatic gain or noise suppression was on
	BaleDistance unit.Length `json:"bale_distance_m"` // 0: unknown
	SampleRate   int         `json:"sample_rate_hz"`
	Format       Format      `json:"format"`
}

// Compare returns what forbids comparing levels between two recordings made
// under these conditions, as sentences; none means they are comparable. Shape
// measures that ignore gain (attack, early against late, modes) suffer only
// from other places and positions.
func (c Conditions) Compare(d Conditions) []string {
	var w []string
	differ := func(what, a, b string) {
		if a != b {
			w = append(w, fmt.Sprintf("the %s differs (%s, %s): levels cannot be compared", what, orUnknown(a), orUnknown(b)))
		}
	}
	differ("phone", c.Device, d.Device)
	differ("place", c.Place, d.Place)
	differ("microphone's position", c.Position, d.Position)
	differ("gain", c.Gain, d.Gain)
	if c.AutoGain || d.AutoGain {
		w = append(w, "automatic gain was on: levels mean nothing, not even within one recording")
	}
	if math.Abs(float64(c.BaleDistance-d.BaleDistance)) > 0.25 {
		w = append(w, "the bale stands at another distance: the measured windows differ in length")
	}
	if c.SampleRate != d.SampleRate && min(c.SampleRate, d.SampleRate) < 32000 {
		w = append(w, fmt.Sprintf("sample rates of %d and %d Hz hear different parts of the sound", c.SampleRate, d.SampleRate))
	}
	if c.Format != d.Format {
		w = append(w, fmt.Sprintf("%s and %s: a lossy format changes what it keeps; record both in one format", c.Format, d.Format))
	}
	return w
}

func orUnknown(s string) string {
	if s == "" {
		return "unknown"
	}
	return s
}
