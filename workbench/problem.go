package workbench

import (
	"context"
	"errors"

	"tautline/bow"
	"tautline/notebook"
	"tautline/shot"
	"tautline/trial"
)

// fieldOf leads from a model's input to the setting it came from.
var fieldOf = map[string]string{
	"DrawWeight": "/draw/weight", "Draw": "/draw/length", "Brace": "/brace_height/value", "BowLength": "/limbs/bow_length",
	"StringLength": "/string/length", "PivotOffset": "/riser/offset", "ArrowMass": "/arrow/mass",
	"StringSpec.Material": "/string/material", "StringSpec.Strands": "/string/strands", "StringSpec.Length": "/string/length",
	"limb range": "/limbs/range_low", "brace height": "/brace_height/value", "riser offset": "/riser/offset", "turns": "/string/twists",
}

// understand puts a science package's refusal into the notebook's words.
func understand(err error) error {
	var ours *notebook.Error
	var many notebook.Problems
	var fromBow *bow.InputError
	var fromShot *shot.InputError
	var fromTrial *trial.InputError
	switch {
	case err == nil, errors.As(err, &ours), errors.As(err, &many), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.As(err, &fromBow):
		return refused(fromBow.Field, fromBow.Error(), err)
	case errors.As(err, &fromShot):
		return refused(fromShot.Field, fromShot.Problem+"; try "+fromShot.Try, err)
	case errors.As(err, &fromTrial):
		return &notebook.Error{Code: notebook.Invalid, Field: fieldOf[fromTrial.Field], Message: fromTrial.Message, Hint: fromTrial.Hint, Cause: err}
	}
	return &notebook.Error{Code: notebook.Invalid, Message: "the model cannot stand this bow: " + err.Error(), Hint: "check draw weight, draw length, bow length and brace height against each other", Cause: err}
}

func refused(field, message string, cause error) error {
	return &notebook.Error{Code: notebook.Invalid, Field: fieldOf[field], Message: message, Cause: cause}
}
