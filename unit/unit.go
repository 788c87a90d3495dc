// Package unit holds the quantities an archer types and reads: length, mass,
// force, speed and the rest. Every type is a float64 in SI inside, so a solver
// converts with float64(x) and nothing else; the edges of the program parse
// and print what people write.
package unit

// Length is a length in metres.
type Length float64

// Mass is a mass in kilograms.
type Mass float64

// Force is a force in newtons.
type Force float64

// Speed is a speed in metres per second.
type Speed float64

// Angle is an angle in radians.
type Angle float64

// Duration is a time span in seconds.
type Duration float64

// Energy is an energy in joules.
type Energy float64

// Stiffness is a translational stiffness in newtons per metre.
type Stiffness float64

// Temperature is a temperature in degrees Celsius.
type Temperature float64

// Pressure is a pressure in pascals.
type Pressure float64
