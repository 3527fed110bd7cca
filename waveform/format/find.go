package format

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
)

// Options says how captures are found.
type Options struct {
	// Separate makes every file a capture of its own, also where a folder
	// looks like one shot with a file for each channel.
	Separate bool
}

// Source is one capture as found on disk: a file, or the files of one shot.
type Source struct {
	Name  string   // slash path relative to the PATH given, without extension, unique in the run
	Dir   string   // what Files are relative to
	Files []string // slash paths
	Note  string   // how the files were taken, where that could be doubted
}

// paths returns the files as they can be opened.
func (s Source) paths() []string {
	p := make([]string, len(s.Files))
	for i, f := range s.Files {
		p[i] = filepath.Join(s.Dir, filepath.FromSlash(f))
	}
	return p
}

// Skipped is a file or folder that was passed over, and why.
type Skipped struct {
	Path   string // slash path relative to the PATH given
	Reason string
}

// Find lists the captures under root: a capture file, a folder that holds one
// shot as several files, or a folder tree of shots. The order is that of the
// names. Symbolic links are followed; a folder that was visited is not visited
// again. A folder without a capture is an error.
func Find(root string, opt Options) ([]Source, []Skipped, error) {
	info, err := os.Stat(root)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("%s: no such file or folder", root)
	}
	if err != nil {
		return nil, nil, err
	}
	if !info.IsDir() {
		base := filepath.Base(root)
		return []Source{{Name: stem(base), Dir: filepath.Dir(root), Files: []string{base}}}, nil, nil
	}
	f := finder{root: root, opt: opt, visited: map[string]bool{}}
	if err := f.walk(""); err != nil {
		return nil, nil, err
	}
	if len(f.sources) == 0 {
		return nil, f.skipped, fmt.Errorf("%s: no capture found in %d files; looked for %s, also as .gz, in this folder and those below",
			root, f.seen, strings.Join(textExtensions, ", "))
	}
	f.name()
	return f.sources, f.skipped, nil
}

// finder walks one tree.
type finder struct {
	root    string
	opt     Options
	visited map[string]bool
	seen    int // files
	sources []Source
	skipped []Skipped
}

func (f *finder) skip(rel, reason string) {
	f.skipped = append(f.skipped, Skipped{rel, reason})
}

// walk visits the folder at rel, "" for the root.
func (f *finder) walk(rel string) error {
	dir := filepath.Join(f.root, filepath.FromSlash(rel))
	real, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return err
	}
	if f.visited[real] {
		f.skip(rel, "a link to a folder that was visited already")
		return nil
	}
	f.visited[real] = true
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if isResult(entries) {
		f.skip(rel, "results of a measurement, not captures")
		return nil
	}
	var files []string
	for _, e := range entries {
		child := path.Join(rel, e.Name())
		if reason := hidden(e.Name()); reason != "" {
			f.skip(child, reason)
			continue
		}
		info, err := os.Stat(filepath.Join(dir, e.Name()))
		switch {
		case err != nil:
			f.skip(child, "a link that leads nowhere")
		case info.IsDir():
			if err := f.walk(child); err != nil {
				return err
			}
		case !info.Mode().IsRegular():
			f.skip(child, "no regular file")
		default:
			f.seen++
			if reason := f.unfit(child); reason != "" {
				f.skip(child, reason)
			} else {
				files = append(files, child)
			}
		}
	}
	f.sources = append(f.sources, f.group(rel, files)...)
	return nil
}

// isResult tells whether the folder was written by measure.
func isResult(entries []os.DirEntry) bool {
	n := 0
	for _, e := range entries {
		switch e.Name() {
		case "shots.csv", "quantities.csv", "shots.jsonl":
			n++
		}
	}
	return n >= 2
}

func hidden(name string) string {
	if strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~$") {
		return "hidden"
	}
	return ""
}

// textExtensions are those of files that are taken for captures whatever they
// hold, so that a broken one is reported rather than passed over.
var textExtensions = []string{".csv", ".txt", ".tsv", ".dat", ".asc"}

// unfit returns why the file is no capture, "" if it may be one.
func (f *finder) unfit(rel string) string {
	base := strings.ToLower(path.Base(rel))
	ext := path.Ext(strings.TrimSuffix(base, ".gz"))
	switch {
	case strings.HasPrefix(base, "readme") || strings.HasPrefix(base, "license"):
		return "a note, not a capture"
	case isOne(ext, ".md", ".json", ".jsonl", ".toml", ".yaml", ".yml", ".xml", ".ini", ".html", ".pdf", ".doc", ".docx", ".xlsx", ".log"):
		return "a " + ext + " file, not a capture"
	case isOne(ext, ".png", ".jpg", ".jpeg", ".bmp", ".gif", ".tif", ".tiff", ".svg", ".webp"):
		return "a picture, not a capture"
	case isOne(ext, textExtensions...):
		return ""
	}
	head, err := readHead(filepath.Join(f.root, filepath.FromSlash(rel)))
	if err != nil {
		return err.Error()
	}
	if _, ok := pick(head, base); !ok {
		return "no known format"
	}
	if _, err := findTable(head); err != nil {
		return "text without a table of samples"
	}
	return ""
}

func isOne(s string, list ...string) bool {
	for _, e := range list {
		if s == e {
			return true
		}
	}
	return false
}

// stem drops the extension, and .gz before it.
func stem(name string) string {
	if e := path.Ext(name); strings.EqualFold(e, ".gz") {
		name = strings.TrimSuffix(name, e)
	}
	if s := strings.TrimSuffix(name, path.Ext(name)); s != "" && !strings.HasSuffix(s, "/") {
		return s
	}
	return name
}

// name gives each source its name and sorts them. Names that would be the same
// keep their extensions.
func (f *finder) name() {
	uses := map[string]int{}
	for _, s := range f.sources {
		uses[s.Name]++
	}
	for i, s := range f.sources {
		if uses[s.Name] > 1 && len(s.Files) == 1 {
			f.sources[i].Name = s.Files[0]
		}
	}
	sort.Slice(f.sources, func(i, j int) bool { return f.sources[i].Name < f.sources[j].Name })
	sort.Slice(f.skipped, func(i, j int) bool { return f.skipped[i].Path < f.skipped[j].Path })
}
