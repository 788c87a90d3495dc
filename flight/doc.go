// Package flight follows an arrow from the bow to the target: drag, the shaft
// swinging behind its point, wind, air, gravity; and turns sight marks into
// speed and drag and back.
//
// Axes: x toward the target, right as seen from the shooting line, up. Right
// and up are never mirrored for a left-handed archer.
//
// The full model (Flyer) is a rigid rod with strips of crossflow along its
// shaft, a nose and vanes, and the square of what still rings in the shaft
// added to the crossflow. PointMass is the same arrow reduced to a point with
// drag along its path, for sight marks.
//
// # What the model leaves out
//
// Spin and everything it does (gyroscopic stiffness, Magnus force, the
// averaging of a crooked shaft); gusts and wind that changes with height; lift
// of a bent shaft; the flow's memory. The slopes of nose and vanes and the
// crossflow coefficient are estimates from theory and from cylinders: nobody
// has published them for arrows. Only the axial drag rests on measurements.
//
// docs/theory/flight.md numbers the equations that the comments refer to.
package flight
