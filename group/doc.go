// Package group says what a handful of impacts on a face can and cannot tell:
// how wide the group is and where its centre lies, each with its interval,
// what it would score on any face, which arrow does not belong, and which
// numbered arrow always flies out.
//
// Coordinates are lengths on the face: Right and Up as seen from the shooting
// line, for every archer, never mirrored. σ is the standard deviation of one
// axis. The package describes one set-up; comparisons of two are in trial.
//
// It leaves out: arrows that missed the paper (they are no impacts; a count of
// them belongs beside every figure), the growth of a group with distance by
// drag and wind, and correlation between the arrows of one end beyond a common
// centre. theory: docs/theory/groups.md.
package group
