package main

import (
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"slewbook/dpt/campaign"
	"slewbook/waveform"
	"slewbook/waveform/format"
)

// opened is what reading one source gave: captures, or why there are none.
type opened struct {
	source   format.Source
	captures []*waveform.Capture
	err      error
}

// findSources lists the captures under all paths. Their names are unique in the
// run: where two paths hold the same name, all are led by their folders'. How files
// were grouped into shots is told on stderr; the set-up can say otherwise.
func findSources(paths []string, b bench, stderr io.Writer) ([]format.Source, error) {
	opt := b.files()
	notes := map[string]bool{}
	var all []format.Source
	var from []int // indices into paths
	seen := map[string]int{}
	twice := ""
	for k, p := range paths {
		sources, skipped, err := format.Find(p, opt)
		for _, s := range skipped {
			tell(stderr, "%s passed over: %s", s.Path, s.Reason)
		}
		if err != nil {
			return nil, err
		}
		for _, s := range sources {
			if s.Note != "" && !notes[s.Note] {
				notes[s.Note] = true
				tell(stderr, "%s: %s", s.Name, s.Note)
			}
			all = append(all, s)
			from = append(from, k)
			if other, ok := seen[s.Name]; ok && other != k {
				twice = s.Name
			}
			seen[s.Name] = k
		}
	}
	if twice == "" {
		return all, nil
	}
	tell(stderr, "two paths hold a capture %s, so all names are led by their folders", twice)
	leads, err := folderNames(paths)
	if err != nil {
		return nil, err
	}
	for k := range all {
		all[k].Name = path.Join(leads[from[k]], all[k].Name)
	}
	return all, nil
}

// folderNames returns the names of the folders that the paths are, or lie in, with as
// many of those above as it takes to tell them apart.
func folderNames(paths []string) ([]string, error) {
	parts := make([][]string, len(paths))
	most := 0
	for k, p := range paths {
		dir, err := filepath.Abs(p)
		if err != nil {
			return nil, err
		}
		if info, err := os.Stat(dir); err == nil && !info.IsDir() {
			dir = filepath.Dir(dir)
		}
		parts[k] = strings.Split(strings.Trim(filepath.ToSlash(dir), "/"), "/")
		most = max(most, len(parts[k]))
	}
	names := make([]string, len(paths))
	for n := 1; n <= most; n++ {
		of := map[string]string{} // whole paths by name
		clash := false
		for k, p := range parts {
			names[k] = strings.Join(p[max(0, len(p)-n):], "/")
			whole := strings.Join(p, "/")
			clash = clash || of[names[k]] != "" && of[names[k]] != whole
			of[names[k]] = whole
		}
		if !clash {
			break
		}
	}
	return names, nil
}

// apart refuses a folder for results that holds captures: as a folder of results it
// would be passed over from then on, and they with it.
func apart(dir string, sources []format.Source) error {
	out, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	for _, s := range sources {
		file, err := filepath.Abs(filepath.Join(s.Dir, s.Files[0]))
		if err != nil {
			return err
		}
		if rel, err := filepath.Rel(out, file); err == nil && filepath.IsLocal(rel) {
			return fmt.Errorf("--out %s holds the capture %s, and a folder of results is passed over where captures are looked for; expected a folder of its own", dir, filepath.ToSlash(rel))
		}
	}
	return nil
}

// noteMissing tells which rows of the list have no capture.
func noteMissing(list *campaign.List, sources []format.Source, stderr io.Writer) {
	names := make([]string, len(sources))
	for k, s := range sources {
		names[k] = s.Name
	}
	lost := list.Without(names)
	for k, e := range lost {
		if k == mostNotes {
			tell(stderr, "%s: %d more rows without a capture", list.Path, len(lost)-k)
			break
		}
		tell(stderr, "%s:%d: no capture %q under the paths", list.Path, e.Line, e.Capture)
	}
}

// mostNotes is how many lines of one kind are worth reading.
const mostNotes = 5

// withoutList takes the shot list itself out of the sources: it may lie among the
// captures.
func withoutList(sources []format.Source, list *campaign.List) []format.Source {
	if list == nil {
		return sources
	}
	info, err := os.Stat(list.Path)
	if err != nil {
		return sources
	}
	return slices.DeleteFunc(sources, func(s format.Source) bool {
		if len(s.Files) != 1 {
			return false
		}
		other, err := os.Stat(filepath.Join(s.Dir, filepath.FromSlash(s.Files[0])))
		return err == nil && os.SameFile(info, other)
	})
}

// read reads the captures of a source.
func read(s format.Source) opened {
	captures, err := s.Read()
	return opened{s, captures, err}
}

// eachSource reads the sources and works on them as inOrder does.
func eachSource[R any](sources []format.Source, work func(opened) R, done func(R) error) error {
	return inOrder(sources, func(s format.Source) R { return work(read(s)) }, done)
}

// ahead is how many outcomes for each core may wait for a slow one before them.
const ahead = 8

// inOrder works on the items with all cores, each with one item at a time, and
// hands the outcomes to done in the order of the items. The first error of done
// ends it.
func inOrder[T, R any](items []T, work func(T) R, done func(R) error) error {
	workers := runtime.GOMAXPROCS(0)
	free := make(chan struct{}, workers)
	queue := make(chan chan R, ahead*workers) // outcomes in order, some of them under way
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		defer close(queue)
		for _, item := range items {
			out := make(chan R, 1)
			select {
			case <-stop:
				return
			case free <- struct{}{}:
			}
			go func() {
				defer func() { <-free }()
				out <- work(item)
			}()
			select {
			case <-stop:
				return
			case queue <- out:
			}
		}
	}()
	for out := range queue {
		if err := done(<-out); err != nil {
			return err
		}
	}
	return nil
}
