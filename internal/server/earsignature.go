package server

import (
	"context"
	"fmt"
	"math"
	"time"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// signatureView is how a bow sounds, as far as its recordings have been
// listened to.
type signatureView struct {
	Groups  []voiceView `json:"groups" nullable:"false" doc:"Shots that may be held against each other, newest group first."`
	Total   int         `json:"recordings" doc:"Recordings of this bow."`
	Pending int         `json:"pending" doc:"Recordings not listened to yet: ask again, each answer goes further."`
	Deaf    []string    `json:"warnings" nullable:"false" doc:"Recordings that cannot be listened to."`
}

// voiceView is one group of shots.
type voiceView struct {
	Name       string           `json:"name" example:"as bought, club hall"`
	SetUp      notebook.ID      `json:"setup,omitempty"`
	Trial      notebook.ID      `json:"trial,omitempty"`
	Stop       *int             `json:"stop,omitempty"`
	Phone      string           `json:"phone,omitempty"`
	Place      string           `json:"place,omitempty"`
	Where      string           `json:"where,omitempty"`
	ToBale     string           `json:"distance_to_bale,omitempty"`
	Recordings []notebook.ID    `json:"recordings" nullable:"false"`
	Usual      []usualView      `json:"usual" nullable:"false" doc:"The three features, mean and spread; empty below six shots."`
	Shots      []voiceShotView  `json:"shots" nullable:"false"`
	Arrows     []voiceArrowView `json:"arrows" nullable:"false" doc:"Per arrow number, odd ones first."`
	Flags      int              `json:"flags"`
	PerRound   float64          `json:"chance_flags_per_72" doc:"Flags to expect by chance in 72 arrows, at most."`
	SmallestP  *float64         `json:"smallest_p" doc:"The least p so many shots can give; null: none can be judged."`
	Text       string           `json:"text" doc:"What can be said, in a sentence or two."`
}

// usualView is one feature of a signature.
type usualView struct {
	Label string  `json:"label" example:"early energy"`
	Mean  float64 `json:"mean"`
	SD    float64 `json:"sd" doc:"Spread from shot to shot."`
	Unit  string  `json:"unit" example:"dB"`
	Text  string  `json:"text" example:"-3.1 dB, spread 0.4 dB"`
}

// voiceShotView is one shot held against the others.
type voiceShotView struct {
	Recording notebook.ID `json:"recording"`
	Number    int         `json:"number"`
	At        float64     `json:"release_s"`
	Arrow     string      `json:"arrow,omitempty"`
	Ring      string      `json:"ring,omitempty"`
	Odd       bool        `json:"odd" doc:"Sounded unlike the rest."`
	Distance  *float64    `json:"distance" doc:"From the others' centre, in standard deviations; null: not judged."`
	P         *float64    `json:"p" doc:"How often a usual shot is as far off, by rank."`
	Most      string      `json:"furthest,omitempty" doc:"The feature furthest off." example:"late energy"`
	Why       string      `json:"why,omitempty" doc:"Why it was not judged, or nothing is flagged."`
}

// voiceArrowView is one numbered arrow.
type voiceArrowView struct {
	Arrow  string   `json:"arrow"`
	Shots  int      `json:"shots"`
	Odd    int      `json:"odd"`
	Scores []string `json:"rings" nullable:"false"`
}

// listenFor is how long one answer listens to recordings nobody has listened
// to yet; the next answer goes on where it stopped.
const listenFor = 4 * time.Second

func (s *server) getSignature(ctx context.Context, in *IDInput) (*found[signatureView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	system, err := s.system(ctx)
	if err != nil {
		return nil, err
	}
	recordings, err := all(ctx, s, s.Notebook.Recordings(), notebook.Query{Bow: bow.ID})
	if err != nil {
		return nil, err
	}
	setUps, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow.ID})
	if err != nil {
		return nil, err
	}
	trials, err := all(ctx, s, s.Notebook.Trials(), notebook.Query{Bow: bow.ID})
	if err != nil {
		return nil, err
	}
	view := signatureView{Groups: []voiceView{}, Total: len(recordings)}
	heard, deaf, err := s.heardSoFar(ctx, recordings)
	if err != nil {
		return nil, err
	}
	view.Deaf, view.Pending = someText(deaf), len(recordings)-len(heard)-len(deaf)
	groups := workbench.Voices(heard, setUps, trials)
	for i := len(groups) - 1; i >= 0; i-- {
		view.Groups = append(view.Groups, viewVoice(groups[i], setUps, system))
	}
	return &found[signatureView]{Body: view}, nil
}

// heardSoFar listens for a while, newest recordings first, and gives what was
// heard, oldest first.
func (s *server) heardSoFar(ctx context.Context, recordings []notebook.Recording) (list []workbench.Heard, deaf []string, err error) {
	begin := s.Now()
	for i := len(recordings) - 1; i >= 0; i-- {
		if s.Now().Sub(begin) > listenFor {
			return list, deaf, nil
		}
		heard, mute, err := s.listened(ctx, recordings[i])
		switch {
		case err != nil:
			return nil, nil, err
		case mute != "":
			deaf = append(deaf, mute)
		default:
			list = append([]workbench.Heard{heard}, list...)
		}
	}
	return list, deaf, nil
}

func viewVoice(g workbench.VoiceGroup, setUps []notebook.SetUp, system unit.System) voiceView {
	v := voiceView{
		Name: voiceName(g, setUps), SetUp: g.SetUp, Trial: g.Trial, Stop: g.Stop, Phone: g.Conditions.Device, Place: g.Conditions.Place, Where: g.Conditions.Position,
		Recordings: g.Recordings, Usual: []usualView{}, Shots: []voiceShotView{}, Arrows: []voiceArrowView{}, Flags: g.Flags, PerRound: g.PerRound, Text: voiceText(g, system),
	}
	if d := g.Conditions.BaleDistance; d > 0 {
		v.ToBale = system.DistanceStyle().Print(d)
	}
	if g.SmallestP < 1 {
		v.SmallestP = finite(g.SmallestP)
	}
	if g.Usual != nil {
		c, d := g.Usual.Centre, g.Usual.Spread
		v.Usual = append(v.Usual, usual("early energy", "dB", c.Early, d.Early, system), usual("late energy", "dB", c.Late, d.Late, system),
			usual("pitch", "octaves above 1 kHz", c.Pitch, d.Pitch, system))
	}
	for _, shot := range g.Shots {
		one := voiceShotView{Recording: shot.Recording, Number: shot.Number, At: float64(shot.Release), Arrow: shot.Arrow, Ring: shot.Score, Odd: shot.Flag, Why: shot.Why}
		if shot.OK {
			one.Distance, one.P, one.Most = finite(shot.Distance), finite(shot.P), shot.Most
		}
		v.Shots = append(v.Shots, one)
	}
	for _, a := range g.Arrows {
		v.Arrows = append(v.Arrows, voiceArrowView{a.Arrow, a.Shots, a.Flags, someText(a.Scores)})
	}
	return v
}

func usual(label, symbol string, mean, sd float64, system unit.System) usualView {
	if math.IsNaN(mean) || math.IsNaN(sd) {
		return usualView{Label: label, Unit: symbol, Text: "no doubt to give"}
	}
	return usualView{label, mean, sd, symbol, fmt.Sprintf("%s %s, spread %s", plainNumber(rounded(mean, 2), system), symbol, plainNumber(rounded(sd, 2), system))}
}

// voiceName says which group it is: the set-up's reason, and the stop.
func voiceName(g workbench.VoiceGroup, setUps []notebook.SetUp) string {
	name := "set-up not known"
	for _, s := range setUps {
		if s.ID == g.SetUp {
			name = "set-up of " + s.At.Format("2 January 2006")
			if s.Reason != "" {
				name = s.Reason
			}
		}
	}
	switch {
	case g.Stop != nil && g.Trial != "":
		return fmt.Sprintf("trial, stop %d (from: %s)", *g.Stop+1, name)
	case g.Stop != nil:
		return fmt.Sprintf("%s, setting %d", name, *g.Stop+1)
	}
	return name
}

// voiceText says what can be said of a group.
func voiceText(g workbench.VoiceGroup, system unit.System) string {
	judged := 0
	why := ""
	for _, s := range g.Shots {
		if s.OK {
			judged++
		} else if why == "" {
			why = s.Why
		}
		if s.OK && s.Why != "" {
			why = s.Why
		}
	}
	if g.PerRound == 0 {
		return fmt.Sprintf("%d shots: none can be judged yet (%s).", len(g.Shots), why)
	}
	p := plainNumber(rounded(g.SmallestP, 3), system)
	if judged < 20 {
		return fmt.Sprintf("%d shots: nothing is flagged below 20; the smallest p that so many can give is %s.", judged, p)
	}
	chance := plainNumber(rounded(g.PerRound, 1), system)
	if g.Flags == 0 {
		return fmt.Sprintf("No shot of %d sounds unlike the rest. Smallest possible p: %s. By chance alone up to %s of 72 arrows would be flagged.", judged, p, chance)
	}
	return fmt.Sprintf("%d of %d shots sound unlike the rest. Smallest possible p: %s. By chance alone up to %s of 72 arrows would be flagged.", g.Flags, judged, p, chance)
}
