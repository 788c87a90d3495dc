package workbench

import (
	"math"
	"strings"

	"tautline/unit"
)

// The model's own error, one standard deviation, before any reading showed
// it. It has a floor, independent from set-up to set-up, and for each setting
// that changes a share of what the change does by the model and a part for
// each usual step.
//
// Shares and parts are what the two models of the string, with two laws of the
// release and two ways of losing energy, differ by at equal parameters
// (docs/theory/fit.md, computed on 40 bows that the coverage study does not
// use); half of the square each. No measured bow stands behind them.
type partError struct{ share, step float64 }

// Groups of settings whose change acts as one.
const (
	gBrace  = "brace height"
	gButton = "button"
	gCentre = "centre shot"
	gSpine  = "static spine"
	gArrow  = "arrow"
	gDraw   = "draw"
	gString = "string"
	gOther  = "other"
	gNock   = "nocking point"
	gRest   = "rest"
	gHook   = "hook"
	gTiller = "tiller"
	gSight  = "sight extension"
)

// partErrors by kind and group; the step's part is at errorDistance, in SI.
var partErrors = map[string]map[string]partError{
	QSpeed: {gBrace: {0.12, 0.08}, gArrow: {0.04, 0.02}, gDraw: {0.01, 0.01}, gString: {0.2, 0.05}},
	QBare: {
		gBrace: {0.20, 0.008}, gButton: {0.15, 0.006}, gCentre: {0.10, 0.0025}, gSpine: {0.12, 0.012}, gArrow: {0.06, 0.004},
		gDraw: {0.10, 0.004}, gString: {0.3, 0.01},
	},
	QGroup: {
		gBrace: {0.29, 0.010}, gButton: {0.15, 0.028}, gCentre: {0.08, 0.010}, gSpine: {0.15, 0.020}, gArrow: {0.25, 0.014},
		gDraw: {0.15, 0.010}, gString: {0.3, 0.016},
	},
	QBareUp: {
		gNock: {0.05, 0.002}, gRest: {0.15, 0.004}, gBrace: {0.3, 0.015}, gHook: {0.3, 0.004}, gTiller: {0.5, 0.003}, gButton: {0.5, 0.004},
		gCentre: {0.5, 0.003}, gSpine: {0.4, 0.015}, gArrow: {0.4, 0.008}, gDraw: {0.4, 0.008}, gString: {0.4, 0.01},
	},
	// another extension is geometry: what is left is how well two were read
	QMark:      {gSight: {0.03, 0.1e-3}},
	QClearance: {gBrace: {0.3, 1e-4}, gButton: {0.5, 1e-4}, gCentre: {0.07, 0.5e-4}, gSpine: {0.45, 2e-4}, gArrow: {0.6, 1e-4}, gDraw: {0.6, 1e-4}},
	QTime:      {gBrace: {0.13, 0}, gArrow: {0.17, 0}, gDraw: {0.02, 0}},
	QResidual:  {gBrace: {0.11, 0.06}, gArrow: {0.16, 0.05}, gDraw: {0.06, 0.01}},
}

// errorDistance is where the steps' parts of the target's quantities hold;
// elsewhere in proportion.
var errorDistance = map[string]float64{QBare: 30, QBareUp: 30, QGroup: 70}

// modelFloors are independent from set-up to set-up; those of the target are at
// errorDistance.
var modelFloors = map[string]float64{
	QSpeed: 0.06, QBare: 0.009, QBareUp: 0.006, QGroup: 0.02, QDrawWeight: 0.4, QDrawForce: 0.4, QMark: 0.3e-3, QString: 1e-3, QBrace: 0.5e-3,
	QStored: 0.1, QResidual: 0.3, QTime: 0.05e-3, QClearance: 0.2e-3,
}

// otherShares are of a change of what partErrors does not name.
var otherShares = map[string]float64{QDrawWeight: 0.05, QDrawForce: 0.05, QString: 0.05, QBrace: 0.1, QStored: 0.05, QMark: 0.12, OfUp: 0.12}

const unknownShare = 0.3

// farther scales what holds at errorDistance.
func (q Quantity) farther() float64 {
	if at := errorDistance[q.Kind]; at > 0 {
		return float64(q.Distance) / at
	}
	return 1
}

// floor is the model's error of the quantity where nothing changes.
func (q Quantity) floor() float64 { return modelFloors[q.Kind] * q.farther() }

// ofPart is the model's error of what a part of a change does.
func (q Quantity) ofPart(p part, i int) float64 {
	effect := p.effect[i]
	if effect == 0 {
		return 0
	}
	e, named := partErrors[q.Kind][p.key]
	if !named {
		e.share = unknownShare
		if s, known := otherShares[q.Kind]; known {
			e.share = s
		}
	}
	return math.Hypot(e.share*effect, e.step*p.steps*q.farther())
}

// settingGroup is the group a setting's key belongs to.
func settingGroup(key string) string {
	head, _, _ := strings.Cut(key, ".")
	switch {
	case key == "arrow.spine":
		return gSpine
	case head == "arrow":
		return gArrow
	case head == "brace_height":
		return gBrace
	case head == "button":
		return gButton
	case head == "centre_shot":
		return gCentre
	case head == "draw":
		return gDraw
	case head == "string":
		return gString
	case head == "nocking_point":
		return gNock
	case head == "rest":
		return gRest
	case key == "hook_below", key == "pressure_point":
		return gHook
	case key == "tiller":
		return gTiller
	case key == "sight_extension":
		return gSight
	}
	return gOther
}

// stepsBetween is how many usual steps of a group lie between two scenes.
func stepsBetween(group string, a, b *scene) float64 {
	gap := func(x, y, step float64) float64 { return math.Abs(x-y) / step }
	switch group {
	case gBrace:
		return gap(float64(a.limb.brace), float64(b.limb.brace), 0.010)
	case gButton:
		return gap(a.turns, b.turns, 1)
	case gCentre:
		return gap(float64(a.side.Setup.CentreShot), float64(b.side.Setup.CentreShot), 0.75e-3)
	case gSpine:
		return gap(float64(a.side.Arrow.Spine), float64(b.side.Arrow.Spine), 50*float64(unit.ThousandthInch))
	case gArrow:
		mass := gap(float64(a.mass), float64(b.mass), 10*float64(unit.Grain))
		return mass + gap(float64(a.side.Arrow.Length), float64(b.side.Arrow.Length), 0.010)
	case gNock:
		return gap(float64(a.up.Setup.Nock), float64(b.up.Setup.Nock), 1e-3)
	case gRest:
		return gap(float64(a.up.Setup.RestY), float64(b.up.Setup.RestY), 1e-3)
	case gTiller:
		return gap(float64(a.up.Setup.Tiller), float64(b.up.Setup.Tiller), 1e-3)
	case gDraw:
		return gap(a.limb.weight, b.limb.weight, 0.025) + gap(float64(a.limb.draw), float64(b.limb.draw), 0.010)
	}
	return 1
}
