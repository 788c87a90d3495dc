package arrow

import (
	"math"

	"tautline/unit"
)

// Design describes one arrow as built. It is a plain value: copy it, change
// the copy, call Validate.
type Design struct {
	// Length of the shaft from the bottom of the nock's groove to its front
	// end, without the point; usual 0.6 to 0.8 m.
	Length unit.Length

	// Spine is the shaft's static spine, usual 400 to 1200 thousandths of an
	// inch. It sets the bending stiffness, which is taken as uniform.
	Spine unit.Spine

	// LinearDensity of the bare shaft, kg/m; usual 0.011 to 0.025. Sellers
	// give it in grains per inch: see GrainsPerInch.
	LinearDensity float64

	// Diameter outside, usual 4 to 9.3 mm.
	Diameter unit.Length

	// Nock is its whole mass, pin or bushing included, at the groove; usual
	// 0.3 to 1.5 g.
	Nock unit.Mass

	// Point with its insert.
	Point Point

	// Fletching is zero for a bare shaft.
	Fletching Fletching

	// Extras are further masses on the shaft: wrap, tape, added weight.
	Extras []Lump

	// Damping is the damping ratio of every bending mode, usual 0.002 to
	// 0.02. Zero is undamped.
	Damping float64
}

// Point is the pile at the front, insert and added weight included.
type Point struct {
	// Mass, usual 4 to 10 g (60 to 150 grains).
	Mass unit.Mass
	// Behind is how far its centre of mass lies behind the shaft's front
	// end; usual 5 to 20 mm.
	Behind unit.Length
	// Size is the length over which the mass is spread, for its rotary
	// inertia m·size²/12; usual 30 to 60 mm.
	Size unit.Length
}

// Fletching is the set of vanes.
type Fletching struct {
	// Mass of all vanes, usual 0.2 to 1.5 g.
	Mass unit.Mass
	// Place of their middle from the nock's groove, usual 35 to 70 mm.
	Place unit.Length
	// Size is their length along the shaft, usual 30 to 60 mm.
	Size unit.Length
	// Height above the shaft's surface, usual 6 to 12 mm.
	Height unit.Length
	// Count, usual 3.
	Count int
}

// Lump is a mass somewhere on the shaft.
type Lump struct {
	Mass  unit.Mass
	Place unit.Length // of its middle, from the nock's groove
	Size  unit.Length // length over which it is spread, for its rotary inertia
}

// GrainsPerInch turns the seller's shaft weight into kg/m.
func GrainsPerInch(n float64) float64 {
	return n * float64(unit.Grain) / float64(unit.Inch)
}

// Stiffness is the bending stiffness EI in N m² of a shaft with static spine
// δ (eq. 1): EI = F l³/(48 δ), F = 1.94 lbf hung in the middle of l = 28 in
// (ASTM F2031-05 as quoted by two texts). Infinite for a spine of zero.
func Stiffness(spine unit.Spine) float64 {
	const f = 1.94 * float64(unit.PoundForce)
	const l = 28 * float64(unit.Inch)
	return f * l * l * l / (48 * float64(spine))
}

// OlderSpine turns the deflection under the older test (2 lbf in the middle
// of 26 in) into today's static spine (28 in, 1.94 lbf): a factor of 1.2115.
func OlderSpine(deflection unit.Length) unit.Spine {
	return unit.Spine(float64(deflection) * 1.94 * 28 * 28 * 28 / (2 * 26 * 26 * 26))
}

// Bare is the arrow with its vanes taken off and nothing in their place: it is
// lighter, faster and its balance lies further forward.
func (d Design) Bare() Design {
	d.Fletching = Fletching{}
	return d
}

// BareTaped is the arrow with its vanes replaced by tape of the same mass at
// the same place, so that it bends and leaves the bow as the fletched one.
func (d Design) BareTaped() Design {
	f := d.Fletching
	d.Fletching = Fletching{}
	if f.Mass > 0 {
		d.Extras = append(append([]Lump(nil), d.Extras...), Lump{Mass: f.Mass, Place: f.Place, Size: f.Size})
	}
	return d
}

// Mass of the whole arrow.
func (d Design) Mass() unit.Mass {
	m, _, _ := d.rigid()
	return unit.Mass(m)
}

// Balance is the centre of mass, from the nock's groove.
func (d Design) Balance() unit.Length {
	_, c, _ := d.rigid()
	return unit.Length(c)
}

// FOC is the balance point's distance forward of the shaft's middle as a
// share of the shaft's length; usual 0.08 to 0.20 for target recurves.
func (d Design) FOC() float64 {
	return float64(d.Balance())/float64(d.Length) - 0.5
}

// Inertia is the moment of inertia about the centre of mass across the shaft,
// kg m².
func (d Design) Inertia() float64 {
	_, _, i := d.rigid()
	return i
}

// lump is a point mass with rotary inertia j, in SI.
type lump struct{ m, s, j float64 }

// lumps lists everything that is not shaft.
func (d Design) lumps() []lump {
	at := func(m unit.Mass, s, size unit.Length) lump {
		return lump{float64(m), float64(s), float64(m) * float64(size*size) / 12}
	}
	all := []lump{
		at(d.Nock, 0, 0),
		at(d.Fletching.Mass, d.Fletching.Place, d.Fletching.Size),
		at(d.Point.Mass, d.Length-d.Point.Behind, d.Point.Size),
	}
	for _, e := range d.Extras {
		all = append(all, at(e.Mass, e.Place, e.Size))
	}
	return all
}

// rigid returns mass, centre of mass and moment of inertia about it.
func (d Design) rigid() (m, c, i float64) {
	l := float64(d.Length)
	shaft := d.LinearDensity * l
	m, first, second := shaft, shaft*l/2, shaft*l*l/3
	for _, p := range d.lumps() {
		m += p.m
		first += p.m * p.s
		second += p.m*p.s*p.s + p.j
	}
	c = first / m
	return m, c, math.Max(0, second-m*c*c)
}

// Generic is an ordinary target arrow for a 44 lbf recurve: 0.54 in spine,
// 0.73 m, 6.4 gr/in, 120 gr point. Invented; it is the arrow of the checks
// against an independent engine.
func Generic() Design {
	return Design{
		Length: 0.73, Spine: 540 * unit.ThousandthInch, LinearDensity: GrainsPerInch(6.4),
		Diameter: 5.6 * unit.Millimetre, Nock: 8 * unit.Grain,
		Point:     Point{Mass: 120 * unit.Grain, Behind: 0.01, Size: 0.045},
		Fletching: Fletching{Mass: 6 * unit.Grain, Place: 0.052, Size: 0.045, Height: 0.008, Count: 3},
		Damping:   0.008,
	}
}
