package sound_test

import (
	"bytes"
	"encoding/json"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os/exec"
	"sort"
	"testing"

	"tautline/sound"
	"tautline/sound/soundtest"
)

// referee.py in SciPy's words: an analogue A filter by its zeros and poles on
// the zero-padded spectrum; backward integration and a regression line; the
// matrix pencil by singular values and generalised eigenvalues.
const referee = `
import json, sys
import numpy as np
from scipy import fft, signal, stats, linalg

def exposure(x, fs):
    w = 2*np.pi*np.array([20.598997057618, 107.652648643046, 737.862230736290, 12194.217147998])
    z, p = np.zeros(4), -np.array([w[0], w[0], w[1], w[2], w[3], w[3]])
    k = 1/abs(signal.freqs_zpk(z, p, 1, [2*np.pi*1000])[1][0])
    n = 8*len(x)
    X = fft.rfft(x, n)
    H = signal.freqs_zpk(z, p, k, 2*np.pi*fft.rfftfreq(n, 1/fs))[1]
    y = fft.irfft(X*H, n)
    return 10*np.log10(np.sum(y**2)/fs)

def decay(x, fs, noise):
    e = np.cumsum((x**2-noise)[::-1])[::-1]
    L = 10*np.log10(np.maximum(e, 1e-30)/e[0])
    out = []
    for hi, lo in ((0, -10), (-5, -15), (-5, -25)):
        a, b = np.argmax(L <= hi), np.argmax(L < lo)
        out.append(-60/stats.linregress(np.arange(a, b)/fs, L[a:b]).slope)
    return out

def poles(x, fs, order):
    L = len(x)//3
    Y = linalg.hankel(x[:len(x)-L], x[len(x)-L-1:])
    V = linalg.svd(Y)[2][:order].conj().T
    z = linalg.eigvals(linalg.pinv(V[:-1]) @ V[1:])
    s = np.log(z[z.imag > 0])*fs
    return sorted([[abs(v)/2/np.pi, -v.real/abs(v)] for v in s])

out = []
for s in json.load(sys.stdin):
    x = np.array(s["x"])
    out.append({"exposure": exposure(x, s["rate"]), "decay": decay(x, s["rate"], s["noise"]), "poles": poles(x[:240], s["rate"], 4)})
json.dump(out, sys.stdout)
`

type refereeSignal struct {
	X     []float64 `json:"x"`
	Rate  int       `json:"rate"`
	Noise float64   `json:"noise"`
}

// fixedSignals are a shot, two modes in noise, and a noise that dies away.
func fixedSignals() []refereeSignal {
	shot := soundtest.Synthesise(soundtest.Config{
		Rate: 8000, Duration: 1, Seed: 12,
		Shots: []soundtest.Shot{{Release: 0.01, Modes: soundtest.DefaultBow().Modes, Slip: -90}},
	})[80:]
	rng := rand.New(rand.NewPCG(12, 12))
	modes, dying := make([]float64, 4000), make([]float64, 8000)
	for i := range modes {
		s := float64(i) / 2000
		modes[i] = math.Exp(-9*s)*math.Sin(2*math.Pi*63*s+0.3) + 0.6*math.Exp(-14*s)*math.Sin(2*math.Pi*187*s) + 1e-4*rng.NormFloat64()
	}
	for i := range dying {
		dying[i] = math.Exp(-12*float64(i)/8000)*rng.NormFloat64() + 0.001*rng.NormFloat64()
	}
	return []refereeSignal{{shot, 8000, 0}, {modes, 2000, 1e-8}, {dying, 8000, 1e-6}}
}

// Issue 4: SciPy as an outside referee. Both sides compute the same
// definitions in double precision: 1e-6 relative, but 1e-4 dB for the level:
// a filter cut at half the sample rate has a tail that falls like 1/t and
// wraps round differently when padded twofold (ours) and eightfold.
func TestAgainstSciPy(t *testing.T) {
	python := "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		t.Skipf("no SciPy beside %s (%v): apt-get install python3-scipy", python, err)
	}
	signals := fixedSignals()
	in, err := json.Marshal(signals)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", referee)
	cmd.Stdin = bytes.NewReader(in)
	var fault bytes.Buffer
	cmd.Stderr = &fault
	text, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, fault.String())
	}
	var want []struct {
		Exposure float64
		Decay    []float64
		Poles    [][2]float64
	}
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	for i, s := range signals {
		if got := sound.LevelsOf(s.X, s.Rate).ExposureA; math.Abs(got-want[i].Exposure) > 1e-4 {
			t.Errorf("signal %d: A-weighted exposure %.8f dB, SciPy %.8f", i, got, want[i].Exposure)
		}
		p := make([]float64, len(s.X))
		for k, v := range s.X {
			p[k] = v * v
		}
		curve := sound.EnergyDecay(p, s.Noise, len(p), 0)
		for k, f := range [][2]float64{{0, -10}, {-5, -15}, {-5, -25}} {
			got, ok := sound.DecayTime(curve, float64(s.Rate), f[0], f[1])
			if !ok || math.Abs(float64(got)/want[i].Decay[k]-1) > 1e-6 {
				t.Errorf("signal %d, %g…%g dB: %.8f s, SciPy %.8f", i, f[0], f[1], float64(got), want[i].Decay[k])
			}
		}
		comparePoles(t, i, s, want[i].Poles)
	}
}

func comparePoles(t *testing.T, i int, s refereeSignal, want [][2]float64) {
	t.Helper()
	poles, err := sound.RealPoles(s.X[:240], 4, 80)
	if err != nil {
		t.Fatal(err)
	}
	var got [][2]float64
	for _, z := range poles {
		if imag(z) > 0 {
			l := cmplx.Log(z)
			got = append(got, [2]float64{cmplx.Abs(l) * float64(s.Rate) / (2 * math.Pi), -real(l) / cmplx.Abs(l)})
		}
	}
	sort.Slice(got, func(a, b int) bool { return got[a][0] < got[b][0] })
	if len(got) != len(want) {
		t.Fatalf("signal %d: %d modes, SciPy %d", i, len(got), len(want))
	}
	for k := range got {
		if math.Abs(got[k][0]/want[k][0]-1) > 1e-6 || math.Abs(got[k][1]-want[k][1]) > 1e-6 {
			t.Errorf("signal %d: mode %v, SciPy %v", i, got[k], want[k])
		}
	}
}
