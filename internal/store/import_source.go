package store

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"regexp"

	"tautline/notebook"
)

// nameAllowed are the only names inside an export.
var nameAllowed = regexp.MustCompile(`^(notebook\.json|notebook\.schema\.json|SHA256SUMS|tables/[a-z_]+\.csv|recordings/[0-9a-f]{64})$`)

// ImportPath reads an exported zip, or the folder it was unpacked into.
func (s *Store) ImportPath(ctx context.Context, name string, o ImportOptions) (r ImportReport, err error) {
	info, err := os.Stat(name)
	if err != nil {
		return r, &notebook.Error{Code: notebook.NotFound, Field: "file", Message: "there is no " + name, Hint: "name an export: a .zip file or the folder it was unpacked into", Cause: err}
	}
	if info.IsDir() {
		root, refused := os.OpenRoot(name) // no link leads out of the folder
		if refused != nil {
			return r, &notebook.Error{Code: notebook.Invalid, Field: "file", Message: name + " cannot be read", Hint: "check its permissions", Cause: refused}
		}
		defer func() { err = joined(err, root.Close()) }()
		return s.Import(ctx, root.FS(), o)
	}
	z, err := zip.OpenReader(name)
	if err != nil {
		return r, &notebook.Error{Code: notebook.Invalid, Field: "file", Message: name + " is not a zip that can be read", Hint: "copy the export again", Cause: err}
	}
	defer func() { err = joined(err, z.Close()) }()
	if err := checkZip(&z.Reader); err != nil {
		return r, err
	}
	return s.Import(ctx, z, o)
}

// checkZip refuses what no export contains: too many entries, strange names,
// links, and sizes that unpack to far more than they are.
func checkZip(z *zip.Reader) error {
	if len(z.File) > mostEntries {
		return badZip(fmt.Sprintf("it holds %d files, more than any export", len(z.File)))
	}
	for _, f := range z.File {
		switch {
		case !nameAllowed.MatchString(f.Name) || f.Mode()&fs.ModeType != 0:
			return badZip(fmt.Sprintf("it holds %.60q, which no export does", f.Name))
		case f.UncompressedSize64 > 4096 && f.UncompressedSize64 > mostRatio*f.CompressedSize64:
			return badZip(fmt.Sprintf("%s unpacks to more than %d times its size", f.Name, mostRatio))
		}
	}
	return nil
}

func badZip(why string) error {
	return &notebook.Error{Code: notebook.Invalid, Field: "file", Message: "this is not an export: " + why, Hint: "make it anew with: tautline export"}
}

// sound brings a recording's bytes in, if they are not there whole, and holds them
// against their name first.
func (i *importer) sound(ctx context.Context, r notebook.Recording) error {
	switch err := checkFile(i.store.files.sounds, r.Hash, 0); {
	case err == nil:
		return nil
	case isAny(err, errsOpen):
		return err
	}
	got, err := i.hashOf(ctx, r.Hash)
	switch {
	case isAny(err, errsOpen):
		return fileError(err)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("its sound file recordings/%s… is not in the export", r.Hash[:12])
	case err != nil:
		return fmt.Errorf("its sound file recordings/%s… cannot be read: it is damaged", r.Hash[:12])
	case got != r.Hash:
		return fmt.Errorf("its sound file recordings/%s… has changed", r.Hash[:12])
	case i.only:
		return nil
	}
	read, err := i.from.Open(path.Join(recordingsDir, r.Hash))
	if err != nil {
		return fileError(err)
	}
	_, _, err = i.store.blobs.Add(ctx, read, maxRecording)
	return joined(err, read.Close())
}

func (i *importer) hashOf(ctx context.Context, name string) (hash string, err error) {
	f, err := i.from.Open(path.Join(recordingsDir, name))
	if err != nil {
		return "", err
	}
	defer func() { err = joined(err, f.Close()) }()
	sum := sha256.New()
	_, err = io.Copy(sum, contextReader{ctx, io.LimitReader(f, maxRecording+1)})
	return hex.EncodeToString(sum.Sum(nil)), err
}
