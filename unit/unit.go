// Package unit holds the quantities an archer types and reads: length, mass,
// force, speed and the rest. Every type is a float64 in SI inside, so a solver
// converts with float64(x) and nothing else; the edges of the program parse
// and print what people write.
//
//   - Constants (Inch, Grain, PoundForce…) build quantities in Go code:
//     8.75 * unit.Inch.
//   - Unit values (MM, In, Lbf…) name the unit in which a quantity is typed or
//     printed: l.Format(unit.CM, 1, unit.Point) gives "22.5 cm".
//   - ParseLength and its sisters read what people write; Read keeps what was
//     typed beside the value.
//   - System holds one person's choice of units and decimal mark.
//
// In JSON the types are plain SI numbers. Files written by people use
// Text[T], which reads and writes "22.5 cm".
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

// Spine is the static spine of a shaft: its mid-span deflection in metres in
// the standard test (1.94 lbf at the middle of a 28 in span). The number the
// trade prints on a shaft is this deflection in thousandths of an inch, so a
// shaft marked 500 has Spine 0.0127.
type Spine float64

// Quantity is satisfied by every quantity type of this package.
type Quantity interface {
	Length | Mass | Force | Speed | Angle | Duration | Energy |
		Stiffness | Temperature | Pressure | Spine
}
