//go:build unix

package drill

import (
	"math/rand/v2"
	"os"
	"path/filepath"
)

// disk is a model of a folder on a disk that may lose its power: what was
// synced is kept, of later writes any part, and a new name counts only after
// its folder was synced, or at once, as file systems differ.
type disk struct {
	names map[string]*content // as programs see them
	kept  map[string]*content // as the folders had them when they were last synced
}

// content is a file's bytes: those that are safe, and the changes since.
type content struct {
	safe  []byte
	later []event
	size  int64 // as programs see it
}

func newDisk() *disk {
	return &disk{names: map[string]*content{}, kept: map[string]*content{}}
}

// does one call.
func (d *disk) does(e event) {
	switch e.op {
	case "open":
		if d.names[e.path] == nil {
			d.names[e.path] = &content{}
		}
	case "write", "truncate":
		if f := d.names[e.path]; f != nil {
			if e.at == atEnd {
				e.at = f.size
			}
			if f.size = max(f.size, e.at+int64(len(e.data))); e.op == "truncate" {
				f.size = e.at
			}
			f.later = append(f.later, e)
		}
	case "sync":
		d.sync(e.path)
	case "rename":
		d.names[e.to] = d.names[e.path]
		delete(d.names, e.path)
	case "unlink":
		delete(d.names, e.path)
	}
}

// sync makes a file's bytes safe, or a folder's names.
func (d *disk) sync(path string) {
	if f := d.names[path]; f != nil {
		for _, e := range f.later {
			f.safe = apply(f.safe, e)
		}
		f.later = nil
		return
	}
	for name := range d.kept {
		if filepath.Dir(name) == path {
			delete(d.kept, name)
		}
	}
	for name, f := range d.names {
		if filepath.Dir(name) == path {
			d.kept[name] = f
		}
	}
}

// cut is what a power cut leaves of later writes.
type cut int

const (
	loseAll cut = iota
	keepAll
	keepSome
	keepPrefix
)

// after writes the folder as a power cut now may leave it.
func (d *disk) after(dir string, how cut, strictNames bool, dice *rand.Rand) error {
	names := d.names
	if strictNames {
		names = d.kept
	}
	for name, f := range names {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return err
		}
		if err := os.WriteFile(path, f.after(how, dice), 0o600); err != nil {
			return err
		}
	}
	return nil
}

// after is a file's bytes as a cut may leave them.
func (f *content) after(how cut, dice *rand.Rand) []byte {
	if how == loseAll || len(f.later) == 0 {
		return f.safe
	}
	b := append([]byte(nil), f.safe...)
	most := len(f.later)
	if how == keepPrefix {
		most = dice.IntN(len(f.later) + 1)
	}
	for _, e := range f.later[:most] {
		if how != keepSome || dice.IntN(2) == 0 {
			b = apply(b, e)
		}
	}
	return b
}

// apply does a write or a truncation to bytes.
func apply(b []byte, e event) []byte {
	end := int(e.at) + len(e.data)
	if e.op == "truncate" {
		end = int(e.at)
		if len(b) > end {
			return b[:end]
		}
	}
	if len(b) < end {
		b = append(b, make([]byte, end-len(b))...)
	}
	if e.op == "write" {
		copy(b[e.at:], e.data)
	}
	return b
}
