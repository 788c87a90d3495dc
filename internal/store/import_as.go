package store

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"tautline/notebook"
)

// adopted gives a line as it comes into this notebook. With ImportOptions.As
// the person whose notebook was exported, which its first line names, becomes
// that one here, wherever the export names them. who they are stays as it is
// here, so skip is true of their own lines, and of others who are here already.
func (i *importer) adopted(ctx context.Context, e envelope) (out envelope, skip bool, err error) {
	if i.as == "" {
		return e, false, nil
	}
	person := e.Kind == string(notebook.PersonNoun)
	if i.whose == "" {
		var first notebook.Person
		if !person || json.Unmarshal(e.Record, &first) != nil || first.ID.Check("") != nil {
			return e, false, fmt.Errorf("the export does not begin with the person whose it is: import it without --as")
		}
		i.whose = first.ID
	}
	e.Record = bytes.ReplaceAll(e.Record, quotedID(i.whose), quotedID(i.as))
	if !person {
		return e, false, nil
	}
	var p notebook.Person
	if err := json.Unmarshal(e.Record, &p); err != nil {
		return e, false, nil // told by whoever reads it next
	}
	_, here, err := i.store.people.latest(ctx, i.tx, p.ID)
	return e, here, translate(err, "it could not be seen who is here already")
}

func quotedID(id notebook.ID) []byte { return []byte(`"` + string(id) + `"`) }

// letIn takes the say over others from a person who comes by an export into a
// notebook with accounts: it is not for an export to give. It gives a record as it
// came and, where that is another, as it is let in.
func (i *importer) letIn(record anyRecord) []anyRecord {
	p, ok := record.(notebook.Person)
	switch {
	case !ok || !i.accounts:
		return []anyRecord{record}
	case i.as != "": // somebody who wrote on these bows
		p.Role, p.Disabled = notebook.ViewerRole, true
	case p.Role == notebook.OwnerRole || p.Role == notebook.CoachRole:
		p.Role = notebook.ArcherRole
	}
	return []anyRecord{record, p}
}

// newcomer tells of who has come in and has no login.
func (i *importer) newcomer(n int, record anyRecord) {
	if p, ok := record.(notebook.Person); ok && i.accounts && p.Version == 1 && !p.Disabled {
		i.report.Warnings = append(i.report.Warnings, ImportLine{n, p.Name + " has no login here: the owner makes a link on the page People; if they have one under another name, import with --as LOGIN instead"})
	}
}
