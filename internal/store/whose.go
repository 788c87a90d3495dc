package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"tautline/notebook"
)

// idName is the file in the notebook's folder that tells this notebook from
// others, beside the recordings for both engines. Its backups say the same, and
// a restore takes it along: it goes where the records go.
const idName = "notebook.id"

// idIn reads it; "" is a notebook that no program has told from others yet, or
// none at all.
func idIn(own *os.Root) (notebook.ID, error) {
	raw, err := own.ReadFile(idName)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fileError(err)
	}
	id := notebook.ID(strings.TrimSpace(string(raw)))
	if id.Check("") != nil {
		return "", &notebook.Error{Code: notebook.Damaged, Message: pathIn(own, idName) + ", which tells this notebook's backups from others', cannot be read", Hint: "write into it what stands after \"notebook\" in backup.json of its newest backup"}
	}
	return id, nil
}

func writeID(own *os.Root, id notebook.ID) error {
	return fileError(writeSynced(own, idName, []byte(id+"\n")))
}

// id is this notebook's, made when there is none.
func (s *Store) id() (notebook.ID, error) {
	id, err := idIn(s.files.own)
	if err != nil || id != "" {
		return id, err
	}
	id = notebook.NewID()
	return id, writeID(s.files.own, id)
}

// knownID is this notebook's or, of a backup that is looked at, that of the
// notebook it was made of.
func (s *Store) knownID() (notebook.ID, error) {
	if s.files.own == nil {
		return "", nil
	}
	if m, err := manifestIn(s.files.own, "."); notebook.CodeOf(err) != notebook.NotFound {
		return m.Notebook, err
	}
	return idIn(s.files.own)
}

// takeOn lets what was restored be the notebook that its backup was made of.
// One from before backups said so changes nothing.
func takeOn(own *os.Root, id notebook.ID) error {
	if id == "" {
		return nil
	}
	return writeID(own, id)
}

// ownership says which backups are a notebook's own.
type ownership struct {
	id  notebook.ID
	all bool
}

// of: backups from before they said whose they are count as one's own, until
// apart has gone through the list.
func (o ownership) of(m Manifest) bool { return o.all || m.Notebook == "" || m.Notebook == o.id }

// apart takes out of a notebook's own backups, oldest first, what says nothing of
// whose it is and was made since the first that does. A notebook that has an id
// makes none without, so these are of another's program, an older one.
func (o ownership) apart(all []Kept) (own, others []Kept) {
	known := false
	for _, b := range all {
		known = known || b.Manifest.Notebook != ""
		if known && b.Manifest.Notebook == "" && !o.all {
			others = append(others, b)
		} else {
			own = append(own, b)
		}
	}
	return own, others
}

// ownershipOf looks whose the notebook in a folder is. Where there is none yet,
// as on a new machine, any backup may be meant; of one whose records are in a
// database on a server, the folder of its recordings is here.
func ownershipOf(dir string, onServer bool) (o ownership, err error) {
	root, err := openFolder(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return ownership{all: true}, nil
	}
	if err != nil {
		return o, fileError(err)
	}
	o.id, err = idIn(root)
	there := databaseName
	if onServer {
		there = recordingsDir
	}
	o.all = o.id == "" && isNot(root, there)
	return o, errors.Join(err, root.Close())
}

// ownership is that of an open notebook.
func (s *Store) ownership() (ownership, error) {
	_, onFile := s.engine.(lite)
	return ownershipOf(s.dir, !onFile)
}

// Latest gives the newest backup in a folder of backups of the notebook in dir.
func Latest(in, dir string, o Options) (Kept, error) {
	own, others, err := Backups(in, dir, o)
	switch {
	case err != nil:
		return Kept{}, err
	case len(own) == 0 && len(others) > 0:
		return Kept{}, &notebook.Error{Code: notebook.NotFound, Message: fmt.Sprintf("there is no backup of this notebook in %s, only of another (%d)", in, len(others)), Hint: "name the folder of a backup; tautline restore lists them"}
	case len(own) == 0:
		return Kept{}, &notebook.Error{Code: notebook.NotFound, Message: "there is no backup in " + in, Hint: "name the folder of a backup"}
	case severalIn(own):
		return Kept{}, &notebook.Error{Code: notebook.Invalid, Message: "the backups in " + in + " are of several notebooks", Hint: "name the folder of a backup; tautline restore lists them"}
	}
	return own[len(own)-1], nil
}

// severalIn reports whether backups, oldest first, are of more notebooks than one.
// What says nothing of whose it is may be from before they said so, not from since.
func severalIn(all []Kept) bool {
	var first notebook.ID
	for _, b := range all {
		if id := b.Manifest.Notebook; first == "" {
			first = id
		} else if id != first {
			return true
		}
	}
	return false
}

// isBegun reports whether a name is that of a backup that this notebook began,
// or of one from before the names said whose.
func (o ownership) isBegun(name string) bool {
	rest, is := strings.CutPrefix(name, begun)
	return is && (backupDir.MatchString(rest) || o.id != "" && strings.HasPrefix(rest, string(o.id)+"-"))
}
