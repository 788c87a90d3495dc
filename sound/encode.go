package sound

import (
	"encoding/binary"
	"io"
	"math"

	"tautline/unit"
)

// EncodeWAV writes mono samples (full scale 1) as a 16-bit PCM WAV file.
// Values beyond full scale are clipped. rate is in Hz.
func EncodeWAV(w io.Writer, samples []float64, rate int) error {
	return EncodeWaveLayout(w, samples, WaveLayout{Rate: rate, Channels: 1, Bits: 16})
}

// WaveLayout says how [EncodeWaveLayout] stores samples.
type WaveLayout struct {
	Rate     int  // Hz
	Channels int  // interleaved in the samples
	Bits     int  // PCM 8, 16, 24 or 32; float 32 or 64
	Float    bool // IEEE floating point instead of PCM
}

// EncodeWaveLayout writes interleaved samples (full scale 1) as a WAV file of
// the given layout. PCM rounds to nearest and clips; float keeps every value.
func EncodeWaveLayout(w io.Writer, samples []float64, l WaveLayout) error {
	put, ok := writers[waveKind{l.Float, l.Bits}]
	if !ok || l.Channels < 1 || l.Rate < 1 || len(samples)%max(l.Channels, 1) != 0 {
		return &FileError{
			Code: CodeConfig, Field: "layout",
			Reason: "no WAV file can be written with it",
			Hint:   "for example 48000 Hz, 1 channel, 16 bits",
		}
	}
	size := l.Bits / 8
	data := len(samples) * size
	if data > math.MaxUint32-64 {
		return overLimit("duration", "cut a shorter piece", "more than 4 GB do not fit into a WAV file")
	}
	if _, err := w.Write(waveHeader(l, data)); err != nil {
		return err
	}
	buf := make([]byte, 0, 1<<15)
	for i, x := range samples {
		buf = put(buf, x)
		if len(buf) >= 1<<15-8 || i == len(samples)-1 {
			if _, err := w.Write(buf); err != nil {
				return err
			}
			buf = buf[:0]
		}
	}
	if data%2 == 1 {
		_, err := w.Write([]byte{0})
		return err
	}
	return nil
}

func waveHeader(l WaveLayout, data int) []byte {
	tag, frame := wavePCM, l.Channels*l.Bits/8
	if l.Float {
		tag = waveFloat
	}
	le := binary.LittleEndian
	b := append([]byte("RIFF"), le.AppendUint32(nil, uint32(36+data+data%2))...)
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, uint16(tag))
	b = le.AppendUint16(b, uint16(l.Channels))
	b = le.AppendUint32(b, uint32(l.Rate))
	b = le.AppendUint32(b, uint32(l.Rate*frame))
	b = le.AppendUint16(b, uint16(frame))
	b = le.AppendUint16(b, uint16(l.Bits))
	b = append(b, "data"...)
	return le.AppendUint32(b, uint32(data))
}

type waveKind struct {
	float bool
	bits  int
}

var writers = map[waveKind]func([]byte, float64) []byte{
	{false, 8}:  func(b []byte, x float64) []byte { return append(b, byte(quantise(x, 8)+128)) },
	{false, 16}: func(b []byte, x float64) []byte { return binary.LittleEndian.AppendUint16(b, uint16(quantise(x, 16))) },
	{false, 24}: func(b []byte, x float64) []byte {
		v := quantise(x, 24)
		return append(b, byte(v), byte(v>>8), byte(v>>16))
	},
	{false, 32}: func(b []byte, x float64) []byte { return binary.LittleEndian.AppendUint32(b, uint32(quantise(x, 32))) },
	{true, 32}: func(b []byte, x float64) []byte {
		return binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
	},
	{true, 64}: func(b []byte, x float64) []byte { return binary.LittleEndian.AppendUint64(b, math.Float64bits(x)) },
}

// quantise rounds to the nearest step of a width and clips.
func quantise(x float64, bits int) int64 {
	full := float64(int64(1) << (bits - 1))
	return int64(max(-full, min(full-1, math.RoundToEven(x*full))))
}

// EncodeClip writes a clip as 16-bit WAV for playback, multiplied by gain.
// Two clips of one recording set-up played at one gain keep their difference
// in loudness: that is what the ear is to judge. [EqualGain] gives a gain.
func EncodeClip(w io.Writer, c Clip, gain float64) error {
	scaled := make([]float64, len(c.Samples))
	for i, x := range c.Samples {
		scaled[i] = gain * x
	}
	return EncodeWAV(w, scaled, c.Rate)
}

// EqualGain returns the one gain that brings the loudest of the clips to
// −1 dB re full scale. What is below −180 dB is silence and stays so.
func EqualGain(clips ...Clip) float64 {
	peak := 0.0
	for _, c := range clips {
		for _, x := range c.Samples {
			peak = max(peak, math.Abs(x))
		}
	}
	if peak < 1e-9 {
		return 1
	}
	return math.Pow(10, -1.0/20) / peak
}

// Clip is a piece of a recording, mixed to one channel.
type Clip struct {
	Rate    int           // Hz
	Start   unit.Duration // of the first sample, from the start of the recording
	Samples []float64     // full scale 1
}

// index returns the sample at time t of the recording, kept inside the clip.
func (c Clip) index(t unit.Duration) int {
	i := int(math.Round(float64(t-c.Start) * float64(c.Rate)))
	return max(0, min(len(c.Samples), i))
}
