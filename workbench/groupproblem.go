package workbench

import (
	"errors"
	"fmt"

	"tautline/group"
	"tautline/notebook"
	"tautline/num"
)

// understandGroup puts a refusal of the packages group and trial into the
// notebook's words. Their fields are words ("set-up A, end 3, arrow 2") and
// lead the message; a table's mistakes stay one a line.
func understandGroup(err error) error {
	var table *group.CSVError
	var input *num.InputError
	var ours *notebook.Error
	switch {
	case errors.As(err, &ours):
		return err
	case errors.As(err, &table):
		return tableProblems(table)
	case errors.As(err, &input):
		return &notebook.Error{Code: notebook.Invalid, Message: input.Field + ": " + input.Message, Hint: input.Hint, Cause: err}
	}
	return err
}

// tableProblems lists the mistakes of a file, each with its line.
func tableProblems(table *group.CSVError) notebook.Problems {
	var out notebook.Problems
	for _, l := range table.Lines {
		field := fmt.Sprintf("line %d", l.Line)
		if l.Column != "" {
			field += ", " + l.Column
		}
		out = append(out, notebook.Error{Code: notebook.Invalid, Field: field, Message: l.Message, Hint: l.Hint})
	}
	if table.More > 0 {
		out = append(out, notebook.Error{Code: notebook.Invalid, Message: fmt.Sprintf("and %d more mistakes", table.More), Hint: "mend the first ones and read the file again; nothing of it was taken"})
	}
	return out
}
