// Package arrow models the shaft bending on its way out of the bow: the string
// pushes and holds its nock sideways, the fingers flick it at release, the
// button keeps it off the riser, and the thrust of the string makes it softer
// while it lasts. What comes out is how the arrow leaves: sideways speed, yaw,
// yaw rate, what still rings in the shaft, and how much room the tail had.
//
// The bow enters as a Drive: tables over time of the nock's place and speed,
// the thrust and the string's tension. The package knows nothing else about
// bows.
//
// # Axes
//
// s runs along the shaft from the nock's groove to the point. Sideways places
// are measured outward: away from the riser's side of the arrow, which is the
// archer's left for a right-handed archer and the right for a left-handed one.
// The solver works in this frame, so a left-handed archer is the exact mirror.
// Results carry outward values where the bow is meant and, for the flight,
// right-handed ones (Right…, positive to the right as seen from the shooting
// line, for every archer).
//
// # What the model leaves out
//
// The vertical plane and the rest; spin; shear, and the stiffer front where
// the point's shank sits in the shaft; large slopes (the shaft turns by some
// hundredths of a radian); friction at button and rest; the riser's few
// millimetres of recoil along the shot; the recoil of sideways motion on the
// thrust; fingers other than as one force; contact of a vane
// with anything, which is reported as a gap but pushes nothing.
//
// docs/theory/arrow.md numbers the equations that the comments refer to.
package arrow
