package sound

import (
	"fmt"
	"math"
)

// Measure is a number with its doubt, or the reason why there is none.
type Measure struct {
	Value float64 `json:"value"` // meaningless unless OK
	SD    float64 `json:"sd"`    // standard deviation from background noise and method; 0: none can be given. Shot-to-shot scatter is not in it
	OK    bool    `json:"ok"`
	Why   string  `json:"why"` // why it is not measurable; or, if OK, what limits it
}

// Interval returns the 95 % interval of a measurable value (value ± 1.96 SD).
func (m Measure) Interval() (low, high float64) {
	return m.Value - 1.96*m.SD, m.Value + 1.96*m.SD
}

// String prints the value with its doubt, or the reason.
func (m Measure) String() string {
	switch {
	case !m.OK:
		return "not measurable: " + m.Why
	case m.SD == 0:
		return fmt.Sprintf("%.4g", m.Value)
	}
	return fmt.Sprintf("%.4g ± %.2g", m.Value, m.SD)
}

func measured(value, sd float64) Measure {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return Measure{Why: "there is only silence"}
	}
	if math.IsNaN(sd) || math.IsInf(sd, 0) {
		sd = 0
	}
	return Measure{Value: value, SD: sd, OK: true}
}

func unmeasured(why string, args ...any) Measure {
	return Measure{Why: fmt.Sprintf(why, args...)}
}
