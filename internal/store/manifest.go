package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"time"

	"tautline/notebook"
)

// backupName is the file in a backup that says what the copy held when it was
// proved.
const backupName = "backup.json"

// Manifest is what a backup says of itself.
type Manifest struct {
	Made    time.Time `json:"made"`    // UTC
	Why     string    `json:"why"`     // such as "daily"
	Program string    `json:"program"` // that made it
	Version int64     `json:"version"` // of the schema
	// Notebook tells of which notebook it is; "" in backups made before
	// December 2026.
	Notebook   notebook.ID         `json:"notebook,omitempty"`
	Database   FileSum             `json:"database"`
	Tables     map[string]TableSum `json:"tables"`
	Recordings int                 `json:"recordings"`      // sound files
	SoundBytes int64               `json:"recording_bytes"` // of all of them
	// Lost are recordings that the notebook itself had lost or damaged before
	// the backup was made, by their SHA-256.
	Lost []string `json:"lost,omitempty"`
	// Report is all that backups made before September 2026 say instead.
	Report *Report `json:"report,omitempty"`
}

// FileSum is a file's size and SHA-256.
type FileSum struct {
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Records counts the records of all kinds, every version of them.
func (m Manifest) Records() (n int64) {
	if m.Report != nil {
		for _, c := range m.Report.Counts {
			n += int64(c)
		}
	}
	var s Store
	s.tables()
	for _, k := range s.shelves() {
		n += m.Tables[k.table()].Rows
	}
	return n
}

// IsBackup reports whether a folder is a backup.
func IsBackup(dir string) bool {
	root, err := openFolder(dir)
	if err != nil {
		return false
	}
	_, err = root.Stat(backupName)
	return errors.Join(err, root.Close()) == nil
}

// readManifest reads what a backup says of itself.
func readManifest(dir string) (m Manifest, err error) {
	root, err := openFolder(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return m, noBackup(dir, err)
	case err != nil:
		return m, fileError(err)
	}
	defer root.Close() // only read
	return manifestIn(root, ".")
}

// noBackup is the refusal of a folder that is none.
func noBackup(dir string, cause error) error {
	return &notebook.Error{Code: notebook.NotFound, Field: "folder", Message: dir + " is not a backup: it has no " + backupName, Hint: "make one with tautline backup; a database copied by hand may lack what was written last", Cause: cause}
}

// manifestIn reads it of a backup in a folder.
func manifestIn(root *os.Root, name string) (m Manifest, err error) {
	raw, err := root.ReadFile(path.Join(name, backupName))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return m, noBackup(root.Name(), err)
	case err != nil:
		return m, fileError(err)
	}
	if err := json.Unmarshal(raw, &m); err != nil || m.Notebook != "" && m.Notebook.Check("") != nil {
		return m, damaged(backupName + " cannot be read")
	}
	return m, nil
}

// damaged is the refusal of a backup, naming the damage.
func damaged(how string) error {
	return &notebook.Error{Code: notebook.Damaged, Field: "folder", Message: "the backup is damaged: " + how, Hint: "use another backup; tautline restore lists them"}
}

func writeManifest(to *os.Root, m Manifest) error {
	raw, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	f, err := to.OpenFile(backupName, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fileError(err)
	}
	_, err = f.Write(append(raw, '\n'))
	return fileError(errors.Join(err, f.Sync(), f.Close(), syncFolder(to, "."), syncName(to)))
}
