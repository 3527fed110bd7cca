package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"slewbook/reports"
)

// outFolder is the folder of a command that writes all its files or none. They go to
// a new folder beside it; commit puts them in place of what an earlier run of the
// command left, so that none stays that does not belong to the others. Files that
// are not ours are left alone.
type outFolder struct {
	dir, temp string
	mark      string   // a file that every run writes
	folders   []string // whose figures and tables are all ours
}

// newOutFolder starts a folder at dir, which may exist. After it call commit or abort.
func newOutFolder(dir, mark string, folders ...string) (*outFolder, error) {
	dir = filepath.Clean(dir)
	o := &outFolder{dir: dir, mark: mark, folders: folders}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return nil, fmt.Errorf("%s is a file; expected a folder, or a name that is not taken", dir)
	}
	if _, err := os.Lstat(filepath.Join(dir, mark)); err != nil {
		for _, name := range folders {
			if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
				return nil, fmt.Errorf("%s holds %s but no %s, so no run has made it; expected a new or an empty folder", dir, name, mark)
			}
		}
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
		return nil, err
	}
	var err error
	o.temp, err = os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+".unfinished-*")
	return o, err
}

// put writes a file at a slash path.
func (o *outFolder) put(name string, write func(io.Writer) error) error {
	return writeFile(filepath.Join(o.temp, filepath.FromSlash(name)), write)
}

// abort removes what was written. After commit it does nothing.
func (o *outFolder) abort() { os.RemoveAll(o.temp) }

// commit moves the files into place.
func (o *outFolder) commit() error {
	for _, name := range o.folders {
		if err := removeOurs(filepath.Join(o.dir, name)); err != nil {
			return err
		}
	}
	err := reports.MoveFiles(o.temp, o.dir, func(string) bool { return true })
	return errors.Join(err, os.RemoveAll(o.temp))
}

// removeOurs removes the figures and tables in a folder, and below it.
func removeOurs(dir string) error {
	ours := []string{".csv", ".json"}
	for _, format := range reports.Formats() {
		ours = append(ours, "."+format)
	}
	err := filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || !slices.Contains(ours, filepath.Ext(path)) {
			return err
		}
		return os.Remove(path)
	})
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
