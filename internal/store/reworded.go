package store

import (
	"bytes"
	"io/fs"
	"strings"
)

// reworded shows a folder's SQL files with some words exchanged.
type reworded struct {
	fs.FS
	words *strings.Replacer
}

// Open gives a file in its new wording.
func (r reworded) Open(name string) (fs.File, error) {
	f, err := r.FS.Open(name)
	if err != nil || !strings.HasSuffix(name, ".sql") {
		return f, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, joined(err, f.Close())
	}
	var text bytes.Buffer
	_, err = text.ReadFrom(f)
	if err = joined(err, f.Close()); err != nil {
		return nil, err
	}
	said := r.words.Replace(text.String())
	return &rewordedFile{Reader: strings.NewReader(said), info: rewordedInfo{info, int64(len(said))}}, nil
}

type rewordedFile struct {
	*strings.Reader
	info rewordedInfo
}

func (f *rewordedFile) Stat() (fs.FileInfo, error) { return f.info, nil }
func (f *rewordedFile) Close() error               { return nil }

type rewordedInfo struct {
	fs.FileInfo
	size int64
}

func (i rewordedInfo) Size() int64 { return i.size }
