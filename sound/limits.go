package sound

import (
	"time"

	"tautline/unit"
)

// Limits bound what a recording may ask of the machine. The zero value of
// each field means its default.
type Limits struct {
	MaxDuration unit.Duration // longest sound; default 30 min
	MaxBytes    int64         // longest file; default 2 GiB (30 min of 96 kHz stereo 32-bit float is 1.4 GB)
	MaxRate     int           // highest sample rate, Hz; default 96000
	MinRate     int           // lowest sample rate, Hz; default 8000: below it the band above 1 kHz is too thin to find a shot
	MaxChannels int           // default 2
	Stall       time.Duration // longest time for one block of sound, without waiting for the file; default 10 s
	Total       time.Duration // longest time for the whole file, without waiting for the file; default 10 min
}

func (l Limits) withDefaults() Limits {
	orDefault(&l.MaxDuration, 30*unit.Minute)
	orDefault(&l.MaxBytes, 2<<30)
	orDefault(&l.MaxRate, 96000)
	orDefault(&l.MinRate, 8000)
	orDefault(&l.MaxChannels, 2)
	orDefault(&l.Stall, 10*time.Second)
	orDefault(&l.Total, 10*time.Minute)
	return l
}

// orDefault sets a setting that was left at its zero value.
func orDefault[T comparable](field *T, value T) {
	var zero T
	if *field == zero {
		*field = value
	}
}

// check refuses a header before any sound is decoded.
func (l Limits) check(h header) error {
	switch {
	case h.channels < 1:
		return damaged(h.format, nil, "it claims %d channels", h.channels)
	case h.channels > l.MaxChannels:
		return overLimit("channels", "save it as mono or stereo", "%d channels, at most %d are read", h.channels, l.MaxChannels)
	case h.rate < l.MinRate:
		return overLimit("sample rate", "record at 44.1 or 48 kHz", "%d Hz is too low to tell a shot, %d Hz at least", h.rate, l.MinRate)
	case h.rate > l.MaxRate:
		return overLimit("sample rate", "save it at 48 kHz", "%d Hz, at most %d Hz are read", h.rate, l.MaxRate)
	}
	return nil
}
