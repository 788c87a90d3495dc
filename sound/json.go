package sound

import (
	"encoding/json"
)

// In JSON a shot is flat, so that a program reads plain numbers: a measure is
// a number under its name, or null; sd_NAME is its standard deviation, absent
// if none can be given; reasons holds, by name, why a measure is null or what
// limits it.

// named points at a measure by its name in JSON.
type named struct {
	name string
	m    *Measure
}

func (v *Measures) named() []named {
	return []named{
		{"exposure_db_rel", &v.Exposure}, {"peak_a_db_rel", &v.PeakA}, {"peak_db_rel", &v.Peak},
		{"attack_ratio", &v.Attack}, {"rise_s", &v.Rise}, {"early_late_db", &v.EarlyLate}, {"late_db_rel", &v.Late},
		{"centroid_hz", &v.Centroid}, {"decay_early_s", &v.DecayEarly}, {"noise_a_db_rel", &v.Noise},
	}
}

func (m *Mode) named() []named {
	return []named{{"frequency_hz", &m.Frequency}, {"damping_ratio", &m.Damping}, {"level_db_rel", &m.Level}}
}

func (b *BandDecay) named() []named { return []named{{"decay_early_s", &b.Early}} }

// flatten writes v with its measures as plain numbers.
func flatten(v any, list []named) ([]byte, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	object := map[string]any{}
	fields := map[string]json.RawMessage{}
	if err := json.Unmarshal(text, &fields); err != nil {
		return nil, err
	}
	for k, f := range fields {
		object[k] = f
	}
	reasons := map[string]string{}
	for _, n := range list {
		object[n.name] = nil
		if n.m.OK {
			object[n.name] = n.m.Value
			if n.m.SD > 0 {
				object["sd_"+n.name] = n.m.SD
			}
		}
		if n.m.Why != "" {
			reasons[n.name] = n.m.Why
		}
	}
	if len(reasons) > 0 {
		object["reasons"] = reasons
	}
	return json.Marshal(object)
}

// unflatten reads the measures that flatten wrote.
func unflatten(text []byte, list []named) error {
	fields := map[string]json.RawMessage{}
	if err := json.Unmarshal(text, &fields); err != nil {
		return err
	}
	reasons := map[string]string{}
	if raw, ok := fields["reasons"]; ok {
		if err := json.Unmarshal(raw, &reasons); err != nil {
			return err
		}
	}
	for _, n := range list {
		var value, sd *float64
		for name, to := range map[string]**float64{n.name: &value, "sd_" + n.name: &sd} {
			if raw, ok := fields[name]; ok {
				if err := json.Unmarshal(raw, to); err != nil {
					return err
				}
			}
		}
		*n.m = Measure{Why: reasons[n.name], OK: value != nil}
		if value != nil {
			n.m.Value = *value
		}
		if sd != nil {
			n.m.SD = *sd
		}
	}
	return nil
}

// The plain types have the fields but not the methods, so that encoding them
// does not call itself.
type (
	plainShot Shot
	plainMode Mode
	plainBand BandDecay
)

// MarshalJSON writes the shot flat: "exposure_db_rel": −31.2,
// "sd_exposure_db_rel": 0.1, "decay_early_s": null, "reasons": {…}.
func (s Shot) MarshalJSON() ([]byte, error) { return flatten(plainShot(s), s.Measures.named()) }

// UnmarshalJSON reads what MarshalJSON writes.
func (s *Shot) UnmarshalJSON(text []byte) error {
	if err := json.Unmarshal(text, (*plainShot)(s)); err != nil {
		return err
	}
	return unflatten(text, s.Measures.named())
}

// MarshalJSON writes the mode flat: "frequency_hz", "sd_frequency_hz",
// "damping_ratio" (null if withheld), "sd_damping_ratio", …
func (m Mode) MarshalJSON() ([]byte, error) { return flatten(plainMode(m), m.named()) }

// UnmarshalJSON reads what MarshalJSON writes.
func (m *Mode) UnmarshalJSON(text []byte) error {
	if err := json.Unmarshal(text, (*plainMode)(m)); err != nil {
		return err
	}
	return unflatten(text, m.named())
}

// MarshalJSON writes the band flat.
func (b BandDecay) MarshalJSON() ([]byte, error) { return flatten(plainBand(b), b.named()) }

// UnmarshalJSON reads what MarshalJSON writes.
func (b *BandDecay) UnmarshalJSON(text []byte) error {
	if err := json.Unmarshal(text, (*plainBand)(b)); err != nil {
		return err
	}
	return unflatten(text, b.named())
}
