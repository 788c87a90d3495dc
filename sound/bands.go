package sound

import "math"

// octaves are the centres of the bands in which decay is measured, Hz.
var octaves = []float64{250, 500, 1000, 2000, 4000, 8000}

// decays measures the early decay of the A-weighted sound and of octaves.
func (m measurer) decays(o moment, v *Measures) {
	// the A weighting leaves some 10 kHz of bandwidth; a decay of a few
	// resonances has less, and its doubt is larger than this says
	d := decayOf(o.xa, o.release, o.end, o.rate, o.noise, math.Min(10000, 0.45*float64(o.rate)))
	v.DecayEarly, v.Curved = d.Early, d.Curved
	for _, f := range octaves {
		if f*math.Sqrt2 > 0.48*float64(o.rate) {
			break
		}
		b := o.octave(f)
		v.Bands = append(v.Bands, BandDecay{Centre: f, Early: b.Early, Curved: b.Curved})
	}
}

// octave measures the decay in the octave around f. The filter runs backwards
// in time, so that its own ringing lies before the decay.
func (o moment) octave(f float64) Decay {
	fs := float64(o.rate)
	y := bandPass(2, f/math.Sqrt2, f*math.Sqrt2, fs).reversed(o.x)
	quietEnd := max(o.release-int(quietTo*fs), 0)
	noise := backgroundOf(y[min(int(0.005*fs), quietEnd):quietEnd], o.rate)
	width := f * (math.Sqrt2 - 1/math.Sqrt2)
	d := decayOf(y, o.release, o.end, o.rate, noise, width)
	// a band cannot show a decay faster than its own: B·T > 4 for a filter
	// run backwards (Jacobsen and Rindel, J. Sound Vib. 117, 1987; recalled)
	if d.Early.OK && width*d.Early.Value < 4 {
		return d.without("it dies faster than a filter of this width can show")
	}
	return d
}
