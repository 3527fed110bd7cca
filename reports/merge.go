package reports

import (
	"cmp"
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

// part is what one result folder holds of a source.
type part struct {
	entry
	from *mergeFrom
	name string // of the source in the merged results
}

// mergeFrom is a result folder that is merged.
type mergeFrom struct {
	dir     string
	journal *journal
}

func openResult(dir string) (*mergeFrom, error) {
	r := &mergeFrom{dir, newJournal()}
	for _, name := range []string{sourcesJSON, shotsJSON} {
		if !exists(filepath.Join(dir, name)) {
			return nil, fmt.Errorf("%s holds no %s, so it is no result folder; expected one that slewbook measure --out wrote", dir, name)
		}
		if err := r.journal.load(filepath.Join(dir, name)); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// Merge adds the shots of result folders to a new one, in the order of their
// names. A source of equal content that was measured under equal settings
// appears once, however often it ran and whatever its name; the last folder
// counts, and notes tell where that changes anything. Other sources of one name
// are led by the names of their folders. each is shown all shots.
func Merge(f *Folder, dirs []string, each func(*result.Shot)) (notes []string, err error) {
	var all []*part
	for _, dir := range dirs {
		r, err := openResult(dir)
		if err != nil {
			return nil, err
		}
		defer r.journal.close()
		for _, source := range r.journal.sources {
			found := r.journal.find(source)
			if len(found) == 0 {
				return nil, fmt.Errorf("%s: the rows of %q are not in %s as %s names them; measure again into this folder", dir, source, shotsJSON, sourcesJSON)
			}
			all = append(all, &part{found[len(found)-1], r, source})
		}
	}
	all, notes = once(all)
	lead(all)
	slices.SortStableFunc(all, func(a, b *part) int { return cmp.Compare(a.name, b.name) })
	for _, p := range all {
		if err := f.take(p, each); err != nil {
			return nil, err
		}
	}
	return notes, nil
}

// once leaves the last part of each content and settings.
func once(all []*part) (left []*part, notes []string) {
	at := map[string]int{}
	for _, p := range all {
		key := p.Content + " " + p.Settings
		if p.Content == "" {
			key = p.Source // a file that could not even be opened
		}
		k, again := at[key]
		if !again {
			at[key] = len(left)
			left = append(left, p)
			continue
		}
		old := left[k]
		if old.Source != p.Source {
			notes = append(notes, fmt.Sprintf("%s of %s and %s of %s are the same capture; it appears once", old.Source, old.from.dir, p.Source, p.from.dir))
		}
		if old.Given != p.Given {
			notes = append(notes, fmt.Sprintf("%s has other conditions, or was measured by another version, in %s and in %s; those of the latter are taken", p.Source, old.from.dir, p.from.dir))
		}
		left[k] = p
	}
	return left, notes
}

// lead makes names unique.
func lead(all []*part) {
	count := map[string]int{}
	for _, p := range all {
		count[p.name]++
	}
	for _, p := range all {
		if count[p.name] > 1 {
			p.name = path.Join(filepath.ToSlash(filepath.Clean(p.from.dir)), p.name)
		}
	}
}

// take adds the shots of a part, with their figures.
func (f *Folder) take(p *part, each func(*result.Shot)) error {
	shots, err := p.from.journal.shots(p.entry)
	if err != nil {
		return err
	}
	var lines [][]byte
	for _, s := range shots {
		old := s.Capture
		s.Capture = p.name + strings.TrimPrefix(s.Capture, p.Source) // a segment has its number behind
		line, err := result.Encode(s)
		if err != nil {
			return err
		}
		lines = append(lines, line)
		each(s)
		if s.Err == nil {
			if err := errors.Join(f.copyFigures(p, old, s.Capture), f.copyWaveforms(p, old, s.Capture)); err != nil {
				return err
			}
		}
	}
	if err := f.see(p.name, p.Figures, shots); err != nil {
		return err
	}
	e, err := f.journal.add(entry{Source: p.name, Origin: p.Origin, Figures: p.Figures}, lines)
	f.order = append(f.order, e)
	return err
}

// copyFigures copies the figures of a capture under its new name.
func (f *Folder) copyFigures(p *part, old, name string) error {
	to := shotPaths(name)
	for k, path := range shotPaths(old) {
		for _, ext := range extensions(p.Figures) {
			from := filepath.Join(p.from.dir, filepath.FromSlash(path+ext))
			if !exists(from) {
				continue
			}
			to := filepath.Join(f.temp, filepath.FromSlash(to[k]+ext))
			if err := copyFile(from, to); err != nil {
				return err
			}
		}
	}
	return nil
}

// copyWaveforms copies the waveforms of a capture, if they are there, under its new
// name.
func (f *Folder) copyWaveforms(p *part, old, name string) error {
	text, err := ReadWaveforms(p.from.dir, old, name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return f.addWaveforms(name, text)
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		return err
	}
	return writeNew(to, func(w io.Writer) error { _, err := io.Copy(w, in); return err })
}
