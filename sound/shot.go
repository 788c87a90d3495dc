package sound

import (
	"tautline/unit"
)

// Shot is one shot of a recording with what was measured of it. Times are
// from the start of the recording.
type Shot struct {
	Number  int            `json:"number"`    // from 1, in order, deleted ones included
	Release unit.Duration  `json:"release_s"` // the onset everything is measured from
	Impact  *unit.Duration `json:"impact_s"`  // nil: not heard
	Clicker *unit.Duration `json:"clicker_s"` // nil: not heard

	AutoRelease *unit.Duration `json:"auto_release_s"` // as found; nil: added by hand
	AutoImpact  *unit.Duration `json:"auto_impact_s"`
	AutoClicker *unit.Duration `json:"auto_clicker_s"`
	Corrected   bool           `json:"corrected"` // an onset was moved or added by hand
	Deleted     bool           `json:"deleted"`   // struck out by hand: found, not measured
	Why         string         `json:"why"`       // what it was recognised by

	Clipped  int           `json:"clipped"`  // samples at full scale in the window: above 0 the levels are too low
	Window   unit.Duration `json:"window_s"` // measured from the release to just before the impact
	Strength float64       `json:"strength_db_rel"`

	Measures
}

// Measures are what is measured of one shot. Levels are dB re full scale;
// they compare shots of one recording set-up only.
type Measures struct {
	Exposure   Measure `json:"-"`            // A-weighted exposure of the window, 10 lg ∫x_A² dt re 1 s
	PeakA      Measure `json:"-"`            // largest A-weighted instant
	Peak       Measure `json:"-"`            // largest sample
	Attack     Measure `json:"-"`            // share of the first 5 ms in the A-weighted energy of 80 ms, 0–1
	Rise       Measure `json:"-"`            // 10 to 90 % of the largest 1 ms r.m.s., A-weighted
	EarlyLate  Measure `json:"-"`            // energy of 0–20 ms against 20–80 ms, A-weighted
	Late       Measure `json:"-"`            // A-weighted exposure of 20–80 ms: what rings on
	Centroid   Measure `json:"-"`            // of the A-weighted power spectrum, 50 Hz to 10 kHz
	DecayEarly Measure `json:"-"`            // early decay time of the A-weighted sound, extrapolated to 60 dB
	Curved     bool    `json:"decay_curved"` // the decay is no straight line: no single decay time describes it

	Bands   []BandDecay `json:"bands"`        // early decay by octave
	Modes   []Mode      `json:"modes"`        // stable ring-down modes
	NoModes string      `json:"no_modes_why"` // why there are none, if there are none
	Noise   Measure     `json:"-"`            // A-weighted background before the shot, mean power
}

// BandDecay is the early decay in an octave band.
type BandDecay struct {
	Centre float64 `json:"centre_hz"`
	Early  Measure `json:"-"`
	Curved bool    `json:"curved"`
}

// Times after the release that split a shot, s: our own choice. The first
// 5 ms hold the blow, by 20 ms the burst is over, and 80 ms are free of the
// impact from 5 m on.
const (
	attackTime = 0.005
	earlyTime  = 0.020
	lateTime   = 0.080
	leadTime   = 0.001 // counted before the onset, so that its rise is not cut
	guardTime  = 0.003 // left out before the impact
	quietFrom  = 0.350 // background: from so long before the release
	quietTo    = 0.025 // to so long before it: string and fingers move before
	peakTime   = 0.030 // within which the peak lies
)
