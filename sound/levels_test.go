package sound_test

import (
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"tautline/sound"
)

// S1 (read: IEC 61672-1:2002 table; computed: the standard's formula at exact
// frequencies): all 34 values of A and of C, to the table's rounding (0.05 dB)
// and to the printed digits of the formula (0.00005 dB).
func TestWeightingTable(t *testing.T) {
	text := string(reference(t, "../../shared/reference/data/a_c_weighting.csv"))
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 35 {
		t.Fatalf("%d rows, want a heading and 34 bands", len(rows))
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for i, row := range rows[1:] {
		// n = 10…43: the exact frequency behind the printed label
		f := 1000 * math.Pow(10, 0.1*float64(i+10-30))
		for _, c := range []struct {
			name              string
			got, table, exact float64
		}{
			{"A", sound.AWeight(f), number(row[2]), number(row[3])},
			{"C", sound.CWeight(f), number(row[4]), number(row[5])},
		} {
			if math.Abs(c.got-c.table) > 0.05 {
				t.Errorf("%s at %s Hz: %.4f dB, the table says %g", c.name, row[0], c.got, c.table)
			}
			if math.Abs(c.got-c.exact) > 0.00005+1e-9 {
				t.Errorf("%s at %s Hz: %.6f dB, the formula gives %g", c.name, row[0], c.got, c.exact)
			}
		}
	}
}

// S9 (computed: SciPy 1.10 on the recordings): dB re full scale; tolerance
// 0.02 dB as stated there.
func TestLevelsOfRecordings(t *testing.T) {
	tests := []struct {
		file                  string
		peak, z, a, leq, fast float64
		full                  int
	}{
		{"wesnoth-bow", 0.00, -21.62, -22.43, -20.27, -15.24, 2},
		{"wesnoth-crossbow", -2.90, -21.98, -24.44, -18.95, -18.55, 0},
		{"flare-shoot", -5.28, -29.88, -35.09, -26.40, -26.84, 0},
		{"freedink-arrow", 0.00, -23.83, -23.81, -18.03, -15.70, 1},
		{"megaglest-arrow_hit2", -15.12, -43.40, -44.49, -40.25, -36.13, 0},
	}
	for _, tt := range tests {
		x, s := mustDecode(t, reference(t, recordings+tt.file+".wav"))
		l := sound.LevelsOf(x, s.SampleRate())
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"peak", l.Peak, tt.peak}, {"Z exposure", l.ExposureZ, tt.z}, {"A exposure", l.ExposureA, tt.a},
			{"Leq", l.MeanZ, tt.leq}, {"LAFmax", l.MaxFastA, tt.fast},
		} {
			if math.Abs(c.got-c.want) > 0.02 {
				t.Errorf("%s: %s %.3f dB, want %.2f", tt.file, c.name, c.got, c.want)
			}
		}
		if l.FullScale != tt.full {
			t.Errorf("%s: %d samples at full scale, want %d", tt.file, l.FullScale, tt.full)
		}
	}
}

// S3 (computed: 10 lg(1 − e^(−Tb/τ)) and 10 lg(Tb/T0); IEC 61672-1 prints the
// same): 4 kHz tone bursts re the steady tone. 0.15 dB: the table is rounded
// to 0.05, and a burst that starts in a zero has at most 0.1 dB of edge at the
// shortest length.
func TestToneBursts(t *testing.T) {
	ms := []float64{1000, 500, 200, 100, 50, 20, 10, 5, 2, 1, 0.5, 0.25}
	fast := []float64{0.0, -0.1, -1.0, -2.6, -4.8, -8.3, -11.1, -14.1, -18.0, -21.0, -24.0, -27.0}
	exposure := []float64{0, -3.0, -7.0, -10.0, -13.0, -17.0, -20.0, -23.0, -27.0, -30.0, -33.0, -36.0}
	const rate = 48000
	steady := -10*math.Log10(2) + sound.AWeight(4000)
	for i, tb := range ms {
		x := make([]float64, rate+rate/2)
		for k := range int(tb / 1000 * rate) {
			x[k] = math.Sin(2 * math.Pi * 4000 * float64(k) / rate)
		}
		l := sound.LevelsOf(x, rate)
		if got := l.MaxFastA - steady; math.Abs(got-fast[i]) > 0.15 {
			t.Errorf("%g ms: LAFmax %.2f dB, want %.1f", tb, got, fast[i])
		}
		if got := l.ExposureA - steady; math.Abs(got-exposure[i]) > 0.15 {
			t.Errorf("%g ms: L_AE %.2f dB, want %.1f", tb, got, exposure[i])
		}
	}
}

// S3 (computed, closed form): exposure of e^(−20t)·cos(2π·100t + 0.3) is
// 0.0122860057174. The sampled sum is the trapezoid rule, with a half weight
// at the start: its error is f'(0)·h²/12 ≈ 1e-8.
func TestExposureClosedForm(t *testing.T) {
	const rate = 48000
	x := make([]float64, 2*rate)
	for i := range x {
		s := float64(i) / rate
		x[i] = math.Exp(-20*s) * math.Cos(2*math.Pi*100*s+0.3)
	}
	x[0] /= math.Sqrt2 // half the weight in the sum of squares
	got := math.Pow(10, sound.LevelsOf(x, rate).ExposureZ/10)
	if math.Abs(got-0.0122860057174) > 2e-8 {
		t.Errorf("exposure %.12f, want 0.0122860057174", got)
	}
}

// S2 (computed): a bilinear filter at 44.1 kHz is 0.645 dB low at 8 kHz and
// 8.2 dB low at 16 kHz. The weighting of a zero-padded spectrum has no such
// warping: 0.02 dB is the edge of a tone of half a second.
func TestWeightingDoesNotWarp(t *testing.T) {
	for _, rate := range []int{44100, 48000, 96000} {
		for _, f := range []float64{1000, 7943.2823, 15848.9319} {
			x := make([]float64, rate/2)
			for i := range x {
				x[i] = 0.5 * math.Sin(2*math.Pi*f*float64(i)/float64(rate))
			}
			l := sound.LevelsOf(x, rate)
			if got := l.ExposureA - l.ExposureZ; math.Abs(got-sound.AWeight(f)) > 0.02 {
				t.Errorf("%d Hz, tone of %.0f Hz: A is %.3f dB, want %.3f", rate, f, got, sound.AWeight(f))
			}
		}
	}
}

func TestLevelsOfSilence(t *testing.T) {
	for _, x := range [][]float64{nil, make([]float64, 100)} {
		if l := sound.LevelsOf(x, 48000); !math.IsInf(l.Peak, -1) || !math.IsInf(l.ExposureA, -1) || !math.IsInf(l.MaxFastA, -1) {
			t.Errorf("%d samples of silence: %+v", len(x), l)
		}
	}
}
