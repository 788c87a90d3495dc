package sound

import (
	"math"

	"tautline/unit"
)

// BandLevels are mean levels of shots in third octaves with their intervals,
// to lay two settings over each other.
type BandLevels struct {
	Centre []float64 // Hz
	Mean   []float64 // dB re full scale: mean over the shots of the exposure level in the band
	Low    []float64 // 95 % interval of the mean; equal to Mean for a single shot
	High   []float64
	Shots  int
}

// ThirdOctaves averages the shots' exposure levels in third octaves from
// 50 Hz to 10 kHz, over each shot's own window (release to 80 ms after).
func ThirdOctaves(shots []Clip, releases []unit.Duration) BandLevels {
	var b BandLevels
	var rows [][]float64
	for i, c := range shots {
		if i >= len(releases) {
			break
		}
		rows = append(rows, c.thirds(releases[i]))
	}
	b.Shots = len(rows)
	for k := range thirdCentres {
		var v []float64
		for _, r := range rows {
			if k < len(r) {
				v = append(v, r[k])
			}
		}
		if len(v) == 0 || len(v) < len(rows) {
			break
		}
		mean, half := meanInterval(v)
		b.Centre = append(b.Centre, thirdCentres[k])
		b.Mean, b.Low, b.High = append(b.Mean, mean), append(b.Low, mean-half), append(b.High, mean+half)
	}
	return b
}

// thirdCentres are exact third-octave centres, 50 Hz to 10 kHz.
var thirdCentres = func() (f []float64) {
	for k := 17; k <= 40; k++ {
		f = append(f, math.Pow(10, float64(k)/10))
	}
	return f
}()

func (c Clip) thirds(release unit.Duration) []float64 {
	a := c.index(release)
	x := c.Samples[a:min(a+int(lateTime*float64(c.Rate)), len(c.Samples))]
	if len(x) == 0 {
		return nil
	}
	n := 2 * paddedLength(len(x))
	power := make([]float64, len(thirdCentres))
	df := float64(c.Rate) / float64(n)
	for k, v := range (plans{}).forward(x, n) {
		band := int(math.Round(10*math.Log10(math.Max(float64(k)*df, 1)))) - 17
		if band >= 0 && band < len(power) {
			power[band] += twice(k, n) * (real(v)*real(v) + imag(v)*imag(v)) / float64(n) / float64(c.Rate)
		}
	}
	var out []float64
	for k, p := range power {
		if thirdCentres[k]*1.13 > 0.5*float64(c.Rate) {
			break
		}
		out = append(out, decibels(p+1e-30))
	}
	return out
}
