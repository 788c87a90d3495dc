package flight

import (
	"math"

	"tautline/unit"
)

// Air is the day's air. Density and viscosity follow.
type Air struct {
	Temperature unit.Temperature // usual −5 to 40 °C
	// Pressure at the range, not reduced to sea level; usual 850 to 1040 hPa.
	// StationPressure converts a weather report's figure.
	Pressure unit.Pressure
	Humidity float64 // relative, 0 to 1
}

// StandardAir is 15 °C, 1013.25 hPa, half humid: what is assumed when nobody
// has looked.
func StandardAir() Air { return Air{Temperature: 15, Pressure: 101325, Humidity: 0.5} }

// Validate reports every field outside −40 to 60 °C, 500 to 1100 hPa, 0 to 1.
func (a Air) Validate() error {
	return checkAll([]limit{
		{"Air.Temperature", float64(a.Temperature), -40, 60, 1, "°C", "15 °C"},
		{"Air.Pressure", float64(a.Pressure), 50000, 110000, 0.01, "hPa", "1013 hPa"},
		{"Air.Humidity", a.Humidity, 0, 1, 100, "%", "50 %"},
	})
}

// Density in kg/m³ of moist air with 400 ppm of carbon dioxide (eq. 1):
// CIPM-2007, Picard et al., Metrologia 45 (2008) 149–155, coefficients from
// memory. Stated for 15 to 27 °C and 600 to 1100 hPa at 1e-5; outside that it
// is far better than the pressure is known.
func (a Air) Density() float64 {
	p, t := float64(a.Pressure), float64(a.Temperature)
	k := t + 273.15
	x := a.vapour()
	// Compressibility Z.
	z := 1 - p/k*(1.58123e-6-2.9331e-8*t+1.1043e-10*t*t+
		(5.707e-6-2.051e-8*t)*x+(1.9898e-4-2.376e-6*t)*x*x) +
		p*p/(k*k)*(1.83e-11-0.765e-8*x*x)
	return 3.483740e-3 * p / (z * k) * (1 - 0.3780*x)
}

// vapour is the mole fraction of water vapour.
func (a Air) vapour() float64 {
	p, t := float64(a.Pressure), float64(a.Temperature)
	k := t + 273.15
	saturation := math.Exp(1.2378847e-5*k*k - 1.9121316e-2*k + 33.93711047 - 6.3431645e3/k)
	enhancement := 1.00062 + 3.14e-8*p + 5.6e-7*t*t
	return a.Humidity * enhancement * saturation / p
}

// Viscosity is the dynamic viscosity in Pa s by Sutherland's law with the
// constants 1.716e-5 Pa s, 273.15 K and 110.4 K (recalled; 1 %). Humidity and
// pressure hardly matter.
func (a Air) Viscosity() float64 {
	k := float64(a.Temperature) + 273.15
	return 1.716e-5 * math.Pow(k/273.15, 1.5) * (273.15 + 110.4) / (k + 110.4)
}

// StationPressure turns a weather report's pressure, reduced to sea level,
// into the pressure at an altitude, by the standard atmosphere's profile (ISO
// 2533, recalled): p·(1 − 2.25577e-5·h)^5.25588.
func StationPressure(seaLevel unit.Pressure, altitude unit.Length) unit.Pressure {
	return seaLevel * unit.Pressure(math.Pow(math.Max(0, 1-2.25577e-5*float64(altitude)), 5.25588))
}
