package bow

import "testing"

// Target: bracing and a 25-point curve in 0.5 ms on one core.
func BenchmarkDrawCurve25(b *testing.B) {
	m, err := New(Generic(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Draw(0.22); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBraceInversion(b *testing.B) {
	m, err := New(Generic(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Brace(0.22); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBraceWithString(b *testing.B) {
	m, err := New(Generic(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.BraceWithString(0.845); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDiscretize(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Discretize(Generic(), Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
