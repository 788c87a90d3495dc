// Package soundtest makes recordings of shots that never happened, with known
// truth: a release burst, a ringing string, limb modes, the clicker before
// and the impact after, outdoor noise, and a room. Tests measure them; the
// demonstration notebook plays them.
//
// What it is not: a model of how a bow sounds. No recording of a real bow at
// known brace heights was available; the shapes are plausible, the numbers
// are invented.
package soundtest
