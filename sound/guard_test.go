package sound

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"testing"
	"time"
)

// fake stands for a library that misbehaves.
type fake struct {
	do func() (int, error)
}

func (f fake) header() header                { return header{format: WAV, rate: 48000, channels: 1} }
func (f fake) next(_ []float64) (int, error) { return f.do() }

// withFake lets WAV files be decoded by something else for one test.
func withFake(t *testing.T, do func() (int, error)) io.Reader {
	t.Helper()
	real := openers[WAV]
	openers[WAV] = func(*bufio.Reader, Limits) (decoder, error) { return fake{do}, nil }
	t.Cleanup(func() { openers[WAV] = real })
	return bytes.NewReader([]byte("RIFF\x00\x00\x00\x00WAVE" + string(make([]byte, 600))))
}

func TestPanicOfADecoderIsAnError(t *testing.T) {
	r := withFake(t, func() (int, error) { panic("index out of range") })
	_, err := Listen(context.Background(), r, Config{})
	if ErrorCode(err) != CodeDecoder {
		t.Errorf("got %v", err)
	}
}

// A decoder that never comes back is left behind and counted; when it does
// come back the count goes down again.
func TestStuckDecoderIsAbandoned(t *testing.T) {
	release := make(chan struct{})
	r := withFake(t, func() (int, error) {
		<-release
		return 0, io.EOF
	})
	start := time.Now()
	_, err := Listen(context.Background(), r, Config{Limits: Limits{Stall: 30 * time.Millisecond}})
	if ErrorCode(err) != CodeTimeout {
		t.Fatalf("got %v after %v", err, time.Since(start))
	}
	if StuckDecoders() != 1 {
		t.Errorf("%d decoders are counted as stuck, want 1", StuckDecoders())
	}
	close(release)
	for range 1000 {
		if StuckDecoders() == 0 {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d decoders still counted after they ended", StuckDecoders())
}

func TestNoMoreFilesWhenDecodersHang(t *testing.T) {
	stuck.Add(maxStuck + 1)
	defer stuck.Add(-maxStuck - 1)
	_, err := Open(context.Background(), bytes.NewReader(nil), Limits{})
	if ErrorCode(err) != CodeBusy {
		t.Errorf("got %v", err)
	}
}

// S1 (computed): the constants behind the weightings, to the printed digits.
func TestWeightingConstants(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
		tol       float64
	}{
		{"f1", poleF1, 20.598997057618, 1e-11}, {"f2", poleF2, 107.652648643046, 1e-11},
		{"f3", poleF3, 737.862230736290, 1e-10}, {"f4", poleF4, 12194.217147998, 1e-7},
		{"A1000", gainA1000, -1.99965554, 1e-8}, {"C1000", gainC1000, -0.06190186, 1e-8},
		{"C(31.6228)", CWeight(31.6227766), -3.0103, 5e-5}, {"C(7943.2823)", CWeight(7943.282347), -3.0103, 5e-5},
	} {
		if d := c.got - c.want; d > c.tol || d < -c.tol {
			t.Errorf("%s = %.12f, want %.12f", c.name, c.got, c.want)
		}
	}
}
