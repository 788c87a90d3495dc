package server

import (
	"context"
	"fmt"

	"tautline/notebook"
	"tautline/unit"
	"tautline/workbench"
)

// nockingBody asks what a high or low bare shaft says of the nocking point.
type nockingBody struct {
	Set      map[string]string `json:"set,omitempty" doc:"Entries of the bow's latest set-up to change before asking." example:"{\"rest.powder_mark\":\"clean\"}"`
	Readings []nockingReading  `json:"readings,omitempty" doc:"Bare-shaft readings in the order shot, the latest last; two about 2 mm apart teach what a millimetre does. At most 20."`
}

// nockingReading is one bare-shaft reading.
type nockingReading struct {
	Nocking  notebook.Length `json:"nocking_point" doc:"The bow square's reading it was shot with." example:"10 mm"`
	Distance notebook.Length `json:"distance" doc:"18 m and 30 m are usual." example:"18 m"`
	Up       notebook.Length `json:"bare_up" doc:"Middle of the bare shafts less middle of the fletched ones, high positive." example:"-6 cm"`
	Doubt    notebook.Length `json:"bare_up_doubt,omitzero" doc:"Its standard deviation; default a thousandth of the distance." example:"2 cm"`
	Untaped  bool            `json:"untaped,omitempty" doc:"The bare tail was not taped to the vanes' mass and balance."`
}

type nockingInput struct {
	IDInput
	Body written[nockingBody]
}

// nockingView is the answer.
type nockingView struct {
	SetUp      notebook.ID         `json:"setup" doc:"The bow's latest set-up, which was looked at."`
	Act        workbench.HeightAct `json:"act" enum:"ask,read,move,leave,touches,cannot tell,withheld" doc:"What to do: look first, shoot, move the nocking point, leave it, free the tail, or nothing that can be told."`
	Say        string              `json:"say" doc:"The same in words."`
	Ask        []string            `json:"ask" nullable:"false" doc:"Settings to look at first." example:"[\"rest.wire_reach\"]"`
	Move       *Shown              `json:"move,omitempty" doc:"How far to move the nocking point, higher positive."`
	To         *Shown              `json:"to,omitempty" doc:"The square's reading then."`
	Change     map[string]string   `json:"change" nullable:"false" doc:"The move as settings of the next set-up; empty where none is advised." example:"{\"nocking_point.value\":\"11 mm\"}"`
	Expected   *Doubted            `json:"expected,omitempty" doc:"What the move does to the bare shaft at the latest reading's distance."`
	PerMM      *Doubted            `json:"per_millimetre,omitempty" doc:"What raising by 1 mm does there."`
	Calibrated bool                `json:"calibrated" doc:"That comes from two readings of this bow, not from the model alone."`
	Gap        *Doubted            `json:"tail_gap_rest,omitempty" doc:"Least gap of the tail over the rest at both ends of the move."`
	Obey       *float64            `json:"obey_ratio,omitempty" doc:"Share of the plausible set-ups in which the move does what is said."`
	Looks      []Doubted           `json:"looks" nullable:"false" doc:"What the model sees of the set-up up and down; empty where withheld."`
	In         bool                `json:"in_window" doc:"The bare shaft's height tells which way to move the nocking point."`
	Reason     string              `json:"window_reason" doc:"Why not."`
	InShare    float64             `json:"window_share_ratio" doc:"Share of the plausible set-ups in which it does."`
	SetUps     int                 `json:"plausible_setups" doc:"Behind each interval, which holds 90 % of them."`
	Least      Shown               `json:"least_gap" doc:"Gap below which a height is not to be read."`
	Nocking    *Shown              `json:"nocking_point,omitempty" doc:"As set up."`
	Reach      *Shown              `json:"wire_reach,omitempty" doc:"How far the rest's wire sticks out past the shaft's centre, as set up."`
	Powder     string              `json:"powder_mark" enum:",clean,marked" doc:"The powder check, empty when nobody looked."`
	Tiller     string              `json:"tiller" doc:"Why no tiller is advised."`
	Notes      []string            `json:"notes" nullable:"false" doc:"What was assumed."`
	Cautions   []string            `json:"cautions" nullable:"false"`
}

// mostHeights bounds the readings of one question.
const mostHeights = 20

// adviseNocking says what a bare shaft's height means on a bow's latest set-up.
func (s *server) adviseNocking(ctx context.Context, in *nockingInput) (*found[nockingView], error) {
	bow, err := fetch(ctx, s, s.Notebook.Bows(), in.ID)
	if err != nil {
		return nil, err
	}
	me, err := s.me(ctx)
	if err != nil {
		return nil, err
	}
	system := systemOf(me)
	body, err := in.Body.read(system)
	if err != nil {
		return nil, err
	}
	setup, settings, err := s.latestWith(ctx, bow.ID, body.Set, system)
	if err != nil {
		return nil, err
	}
	readings, err := body.heights()
	if err != nil {
		return nil, err
	}
	view := nockingView{SetUp: setup}
	drawn, err := s.handOf(ctx, bow.ID)
	if err != nil {
		return nil, err
	}
	hand := workbench.HandOf(drawn)
	err = s.long(ctx, "", func(ctx context.Context, _ func(float64)) error {
		look, v, err := workbench.LookUpright(ctx, settings, hand)
		if err != nil {
			return err
		}
		advice, err := workbench.AdviseHeight(ctx, settings, hand, readings)
		view.look(look, v, settings, system)
		view.advise(advice, readings, system)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &found[nockingView]{Body: view}, nil
}

// latestWith is a bow's latest set-up with changes applied and checked.
func (s *server) latestWith(ctx context.Context, bow notebook.ID, set map[string]string, system unit.System) (notebook.ID, notebook.Settings, error) {
	setups, err := all(ctx, s, s.Notebook.SetUps(), notebook.Query{Bow: bow})
	if err != nil {
		return "", notebook.Settings{}, err
	}
	if len(setups) == 0 {
		return "", notebook.Settings{}, &notebook.Error{Code: notebook.Invalid, Field: "/bow", Message: "the bow has no set-up yet", Hint: "enter its settings first: draw length, draw weight and the arrow"}
	}
	latest := setups[len(setups)-1].ID
	settings, err := s.settingsFor(ctx, latest, nil, set, system)
	return latest, settings, err
}

// heights are the readings as the workbench takes them.
func (b nockingBody) heights() (out []workbench.HeightReading, err error) {
	if len(b.Readings) > mostHeights {
		return nil, refuse(FieldError{"/readings", codeInvalid, fmt.Sprintf("%d readings", len(b.Readings)), fmt.Sprintf("at most %d: the latest, and those 2 mm away", mostHeights)})
	}
	var missing []FieldError
	for i, r := range b.Readings {
		need := func(name, what, hint string, typed notebook.Length) {
			if typed.IsZero() {
				missing = append(missing, FieldError{fmt.Sprintf("/readings/%d/%s", i, name), codeInvalid, what + " is missing", hint})
			}
		}
		need("nocking_point", "the nocking point", "the square's reading, like 10 mm", r.Nocking)
		need("distance", "the distance", "18 m or 30 m", r.Distance)
		need("bare_up", "the bare shaft's height", "bare less fletched, like -6 cm when low", r.Up)
		out = append(out, workbench.HeightReading{Nocking: r.Nocking.Value, Distance: r.Distance.Value, Up: r.Up.Value, Doubt: r.Doubt.Value, Taped: !r.Untaped})
	}
	if len(missing) > 0 {
		return nil, refuse(missing...)
	}
	return out, nil
}

// look shows what the model sees of the set-up.
func (n *nockingView) look(u workbench.Upright, v workbench.Vertical, settings notebook.Settings, system unit.System) {
	n.Looks, n.Change, n.Ask = []Doubted{}, map[string]string{}, []string{}
	n.In, n.Reason, n.InShare, n.SetUps = u.In, said(u.Reason, system), u.InShare, u.Bows
	n.Notes, n.Cautions = saidAll(v.Assumed, system), targetCautions
	n.Least = Shown{float64(workbench.LeastTailGap), "m", fineStyle(system).Print(workbench.LeastTailGap)}
	n.Nocking, n.Reach, n.Powder = n.entry(settings.NockingPoint.Value, system), n.entry(settings.Rest.Reach, system), string(settings.Rest.Powder)
	if v.Withheld != "" {
		return
	}
	far, fine, quick := system.ImpactStyle(), fineStyle(system), system.DurationStyle()
	n.Looks = []Doubted{
		changed("bare_minus_fletched_18m_up", "bare shaft at 18 m, high positive", "m", u.Bare18, far),
		changed("bare_minus_fletched_30m_up", "bare shaft at 30 m, high positive", "m", u.Bare30, far),
		changed("bare_18m_up_per_nock_mm", said("nocking point 1 mm higher: bare shaft at 18 m", system), "m", u.PerMM18, far),
		changed("bare_30m_up_per_nock_mm", said("nocking point 1 mm higher: bare shaft at 30 m", system), "m", u.PerMM30, far),
		doubted("tail_gap_rest", "tail passes over the rest's wire by", "m", u.TailGap, fine),
		changed("nock_travel_static", "nock rises from brace to full draw", "m", u.StaticTravel, fine),
		doubted("nock_travel_dynamic", "nock wanders up and down in the shot", "m", u.DynamicTravel, fine),
		doubted("rest_contact_end", "shaft last touches the rest after", "s", u.RestContact, quick),
		changed("lower_limb_first", "lower limb arrives before the upper by", "s", u.LowerFirst, quick),
	}
}

// entry shows a setting as it stands, nil when it was not given.
func (*nockingView) entry(l notebook.Length, system unit.System) *Shown {
	if l.IsZero() {
		return nil
	}
	return &Shown{float64(l.Value), "m", fineStyle(system).Print(l.Value)}
}

// fineStyle prints lengths of a few millimetres: one digit more than a setting.
func fineStyle(system unit.System) unit.Style[unit.Length] {
	style := system.SettingStyle()
	style.Unit = unit.MM
	if system.Setting == unit.In {
		style.Unit = unit.In
	}
	style.Digits = style.Unit.Digits() + 1
	return style
}

// advise shows what to do.
func (n *nockingView) advise(a workbench.HeightAdvice, readings []workbench.HeightReading, system unit.System) {
	n.Act, n.Say, n.Tiller, n.Calibrated = a.Act, said(a.Say, system), said(a.Tiller, system), a.Calibrated
	n.Ask = someText(a.Ask)
	n.Notes = append(n.Notes, saidAll(a.Notes, system)...)
	if a.PerMM.Value != 0 {
		d := changed("per_millimetre", said("nocking point 1 mm higher", system), "m", a.PerMM, system.ImpactStyle())
		n.PerMM = &d
		gap := doubted("tail_gap_rest", "tail passes over the rest's wire by, at both ends of the move", "m", a.TailGap, fineStyle(system))
		n.Gap = &gap
	}
	if a.Act != workbench.HeightMove {
		return
	}
	fine, to := fineStyle(system), readings[len(readings)-1].Nocking+a.Move
	n.Move = &Shown{float64(a.Move), "m", fine.Difference(a.Move)}
	n.To = &Shown{float64(to), "m", fine.Print(to)}
	n.Change["nocking_point.value"] = fine.Print(to)
	expected := changed("expected", "the move's effect on the bare shaft", "m", a.Expected, system.ImpactStyle())
	n.Expected, n.Obey = &expected, finite(a.Obey)
}
