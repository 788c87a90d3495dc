package arrow

import (
	"testing"

	"tautline/unit"
)

// BenchmarkShoot is one shot with a ready arrow and drive: at most 0.4 ms.
func BenchmarkShoot(b *testing.B) {
	a, d, s, set := mustArrow(b, Generic(), Resolution{}), gridDrive(b), mustSim(b), gridSetup()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Shoot(a, d, set); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkNew is the eigenproblem of a new arrow.
func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		mustArrow(b, Generic(), Resolution{})
	}
}

// BenchmarkWithSpine is what a change of spine costs instead.
func BenchmarkWithSpine(b *testing.B) {
	a := mustArrow(b, Generic(), Resolution{})
	for b.Loop() {
		if _, err := a.WithSpine(600 * unit.ThousandthInch); err != nil {
			b.Fatal(err)
		}
	}
}
