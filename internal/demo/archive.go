package demo

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"sync"

	"tautline/notebook"
)

// kept is the invented notebook as invent wrote it: the records as an export
// has them, and the recipes of the recordings.
//
//go:embed records.json
var kept []byte

// book is what records.json holds.
type book struct {
	Sounds  []soundRecipe `json:"sounds"`
	Records []entry       `json:"records"`
}

// entry is one line of an export.
type entry struct {
	Kind   string          `json:"kind"`
	Record json.RawMessage `json:"record"`
}

// read decodes the kept records once.
var read = sync.OnceValues(func() (b book, err error) {
	if err = json.Unmarshal(kept, &b); err != nil {
		err = fmt.Errorf("demo: records.json: %w", err)
	}
	return b, err
})

// Archive is the demo in the form of an export, ready to be imported. With an
// owner it is made to stand beside that person's own bows: it brings no person,
// everything is written by the owner, and every record has an id of its own, so
// that it meets no other copy. Without one it is a notebook of its own.
func Archive(owner notebook.ID) (fs.FS, error) {
	b, err := read()
	if err != nil {
		return nil, err
	}
	rename, err := b.renamer(owner)
	if err != nil {
		return nil, err
	}
	var packed bytes.Buffer
	files := zip.NewWriter(&packed)
	hashes, err := b.sounds(files)
	if err != nil {
		return nil, err
	}
	var lines []string
	for _, e := range b.Records {
		if owner != "" && e.Kind == string(notebook.PersonNoun) {
			continue
		}
		record := []byte(rename(string(e.Record)))
		if e.Kind == string(notebook.RecordingNoun) {
			if record, err = withHash(e.Record, record, hashes); err != nil {
				return nil, err
			}
		}
		line, err := json.Marshal(entry{e.Kind, record})
		if err != nil {
			return nil, fmt.Errorf("demo: %w", err)
		}
		lines = append(lines, string(line))
	}
	if err := pack(files, "notebook.json", []byte("[\n"+strings.Join(lines, ",\n")+"\n]\n")); err != nil {
		return nil, err
	}
	if err := files.Close(); err != nil {
		return nil, fmt.Errorf("demo: %w", err)
	}
	return zip.NewReader(bytes.NewReader(packed.Bytes()), int64(packed.Len()))
}

var anID = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}`)

// renamer gives every id of a text the one it has beside an owner's bows.
func (b book) renamer(owner notebook.ID) (func(string) string, error) {
	if owner == "" {
		return func(s string) string { return s }, nil
	}
	person, err := b.person()
	if err != nil {
		return nil, err
	}
	return func(s string) string {
		return anID.ReplaceAllStringFunc(s, func(id string) string {
			if notebook.ID(id) == person {
				return string(owner)
			}
			return string(beside(notebook.ID(id)))
		})
	}, nil
}

func (b book) person() (notebook.ID, error) {
	for _, e := range b.Records {
		if e.Kind == string(notebook.PersonNoun) {
			var p notebook.Person
			err := json.Unmarshal(e.Record, &p)
			return p.ID, err
		}
	}
	return "", fmt.Errorf("demo: records.json holds no person")
}

// beside is the id of a demo record beside somebody's own: the same but for
// its last four digits.
func beside(id notebook.ID) notebook.ID {
	s := string(id)
	return notebook.ID(s[:len(s)-4] + "de30")
}

// sounds invents every recording anew, and gives the hash of each.
func (b book) sounds(into *zip.Writer) (map[notebook.ID]soundFile, error) {
	out := map[notebook.ID]soundFile{}
	for _, r := range b.Sounds {
		var wav bytes.Buffer
		if err := r.write(&wav); err != nil {
			return nil, err
		}
		sum := sha256.Sum256(wav.Bytes())
		f := soundFile{hex.EncodeToString(sum[:]), int64(wav.Len())}
		if err := pack(into, "recordings/"+f.hash, wav.Bytes()); err != nil {
			return nil, err
		}
		out[r.Recording] = f
	}
	return out, nil
}

// pack stores a file as it is: sound hardly shrinks.
func pack(into *zip.Writer, name string, data []byte) error {
	w, err := into.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
	if err == nil {
		_, err = w.Write(data)
	}
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return nil
}

type soundFile struct {
	hash string
	size int64
}

// withHash puts the hash of the sound as this machine makes it into a
// recording: another processor may round the last bit of a sample otherwise.
func withHash(kept, renamed []byte, hashes map[notebook.ID]soundFile) ([]byte, error) {
	var was, now notebook.Recording
	if err := json.Unmarshal(kept, &was); err != nil {
		return nil, fmt.Errorf("demo: %w", err)
	}
	if err := json.Unmarshal(renamed, &now); err != nil {
		return nil, fmt.Errorf("demo: %w", err)
	}
	f, known := hashes[was.ID]
	if !known {
		return nil, fmt.Errorf("demo: no recipe for the recording %s", was.ID)
	}
	now.Hash, now.Bytes = f.hash, f.size
	return json.Marshal(now)
}

// bowIDs are the invented bows: in a notebook of their own, then beside.
var bowIDs = sync.OnceValue(func() (out [2][]notebook.ID) {
	b, err := read()
	if err != nil {
		return out // Archive reports it
	}
	for _, e := range b.Records {
		var bow notebook.Bow
		if e.Kind == string(notebook.BowNoun) && json.Unmarshal(e.Record, &bow) == nil {
			out[0], out[1] = append(out[0], bow.ID), append(out[1], beside(bow.ID))
		}
	}
	return out
})

// Bows are the invented bows that may stand beside somebody's own.
func Bows() []notebook.ID { return bowIDs()[1] }

// Invented tells whether a bow is one of the demo's.
func Invented(bow notebook.ID) bool {
	return slices.Contains(bowIDs()[0], bow) || slices.Contains(bowIDs()[1], bow)
}
