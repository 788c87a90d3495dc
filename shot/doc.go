// Package shot computes the shot along the string: from full draw to the
// moment the arrow leaves, and the ringing after it.
//
// Two models live side by side. The production model carries a string with mass
// and shape on a limb of rigid bars and takes about half a millisecond. The
// plain model writes the textbook equations down as they stand, with masses in
// points; it is slow and is what the tests hold the production model against.
// docs/theory/shot.md numbers the equations that the comments here refer to.
//
// The package moves a symmetric pair of limbs in the string's plane. It leaves
// out the arrow's bending, the nocking point's offset, limb twist, friction
// between string and limb, air drag, gravity, and hysteresis of the limbs other
// than linear damping. Absolute speed is not claimed from first principles:
// stiffness, moving mass and losses are fitted to the archer's readings.
package shot
