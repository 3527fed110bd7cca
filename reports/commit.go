package reports

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// dropStale removes the figures and waveforms that a run that was stopped has left of
// shots which are not in this one.
func (f *Folder) dropStale() error {
	keep := f.figures()
	return filepath.WalkDir(f.temp, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		rel, err := filepath.Rel(f.temp, path)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if folder, _, _ := strings.Cut(rel, "/"); !ofShots(folder) || keep(rel) {
			return nil
		}
		return os.Remove(path)
	})
}

// figures tells of a slash path in the result folder whether it is a figure of a shot
// of this run, or its waveforms.
func (f *Folder) figures() func(path string) bool {
	ours := map[string][]string{} // extensions by path without one
	for capture, drawn := range f.captures {
		for _, path := range shotPaths(capture) {
			if hasLocus(drawn) || !strings.HasPrefix(path, lociDir+"/") {
				ours[path] = extensions(drawn)
			}
		}
	}
	for capture := range f.measured {
		name := waveformsPath(capture)
		ours[strings.TrimSuffix(name, path.Ext(name))] = []string{path.Ext(name)}
	}
	return func(name string) bool {
		ext := path.Ext(name)
		return slices.Contains(ours[strings.TrimSuffix(name, ext)], ext)
	}
}

// commit moves the finished files into place: the whole folder in one step
// where there is none yet, else each file in one step. The journal goes last: as
// long as it is there a run can go on.
func (f *Folder) commit() error {
	if !exists(f.dir) {
		if err := os.Rename(f.temp, f.dir); err != nil {
			return err
		}
		return os.Remove(filepath.Join(f.dir, journalName))
	}
	if err := errors.Join(f.removeFigures(), removeOverlays(f.dir), removeMatrix(f.dir), removeMargins(f.dir), removeIfThere(filepath.Join(f.dir, reportName))); err != nil {
		return err
	}
	if err := MoveFiles(f.temp, f.dir, func(name string) bool { return name != journalName }); err != nil {
		return err
	}
	return os.RemoveAll(f.temp)
}

// MoveFiles moves the files in and below a folder to the same places in and below
// another, each in one step; which takes the names of those to move.
func MoveFiles(from, to string, which func(name string) bool) error {
	return filepath.WalkDir(from, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || !which(entry.Name()) {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		target := filepath.Join(to, rel)
		if err := os.MkdirAll(filepath.Dir(target), 0o777); err != nil {
			return err
		}
		return os.Rename(path, target)
	})
}

// removeFigures removes the figures and waveforms of the shots that an earlier run
// listed in its shots.jsonl, unless they are of this one, so that none stays beside
// results that it does not belong to.
func (f *Folder) removeFigures() error {
	keep := f.figures()
	return eachCapture(f.dir, func(capture string) error {
		if waves := waveformsPath(capture); !keep(waves) {
			if err := removeIfThere(filepath.Join(f.dir, filepath.FromSlash(waves))); err != nil {
				return err
			}
		}
		for _, path := range shotPaths(capture) {
			for _, format := range append(Formats(), "csv") {
				name := path + "." + format
				if keep(name) {
					continue
				}
				if err := removeIfThere(filepath.Join(f.dir, filepath.FromSlash(name))); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// eachCapture calls do with the captures of a result folder, none where there is
// no shots.jsonl.
func eachCapture(dir string, do func(capture string) error) error {
	in, err := os.Open(filepath.Join(dir, shotsJSON))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer in.Close()
	for decoder := json.NewDecoder(in); ; {
		var shot struct {
			Capture string `json:"capture"`
		}
		if err := decoder.Decode(&shot); err == io.EOF {
			return nil
		} else if err != nil {
			return fmt.Errorf("%s is no result file of slewbook (%w); move it away or choose another folder", in.Name(), err)
		}
		if err := do(shot.Capture); err != nil {
			return err
		}
	}
}

// removeMatrix removes the matrix of an earlier run.
func removeMatrix(dir string) error {
	for _, format := range append(Formats(), "csv") {
		if err := removeIfThere(filepath.Join(dir, matrixName+"."+format)); err != nil {
			return err
		}
	}
	return nil
}

// removeOverlays removes the overlays of an earlier run, which are named after
// their edge and kind.
func removeOverlays(dir string) error {
	for _, edge := range []result.Edge{result.TurnOff, result.TurnOn} {
		for _, name := range OverlayNames() {
			for _, format := range append(Formats(), "csv") {
				pattern := fmt.Sprintf("%s-%s-[0-9]*.%s", edge, name, format)
				found, err := fs.Glob(os.DirFS(filepath.Join(dir, overlaysDir)), pattern)
				if err != nil {
					return err
				}
				for _, file := range found {
					if err := os.Remove(filepath.Join(dir, overlaysDir, file)); err != nil {
						return err
					}
				}
			}
		}
	}
	return nil
}

func removeIfThere(path string) error {
	if err := os.Remove(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// Abort ends without results. What was done stays beside the destination, for
// the next run to go on from; nothing does if nothing was done. After Close it
// does nothing.
func (f *Folder) Abort() error {
	done := f.journal.end > 0
	if err := f.journal.close(); err != nil || done {
		return err
	}
	return os.RemoveAll(f.temp)
}
