package format

import (
	"archive/zip"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
)

// Options says how captures are found.
type Options struct {
	// Separate makes every file a capture of its own, also where a folder
	// looks like one shot with a file for each channel.
	Separate bool
	// Interval is that between samples, for files that hold no time [s]; 0 if
	// it is not known. Start is the time of their first sample [s].
	Interval, Start float64
}

// Source is one capture as found on disk: a file, or the files of one shot.
type Source struct {
	Name  string   // slash path relative to the PATH given, without extension, unique in the run
	Dir   string   // what Files are relative to
	Files []string // slash paths
	Note  string   // how the files were taken, where that could be doubted

	members []string // of the archive that is the one file, slash paths; empty where it is none
	opt     Options
}

// Grouping says how files, or which members of an archive, became the source;
// "" where it is one file.
func (s Source) Grouping() string {
	const most = 8
	from := s.members
	if len(from) == 0 {
		return s.Note
	}
	text := strings.Join(from[:min(len(from), most)], ", ")
	if len(from) > most {
		text += ", ..."
	}
	if s.Note != "" {
		return s.Note + ": " + text
	}
	return text + " of the archive"
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
	f := finder{root: root, opt: opt, visited: map[string]bool{}}
	if !info.IsDir() {
		f.root = filepath.Dir(root)
		f.file(filepath.Base(root))
	} else if err := f.walk(""); err != nil {
		return nil, nil, err
	}
	if len(f.sources) == 0 {
		return nil, f.skipped, fmt.Errorf("%s: no capture found in %d files; looked for %s and files that are such by content, also packed, in this folder and those below",
			root, f.seen, strings.Join(captureExtensions, ", "))
	}
	f.name()
	for i := range f.sources {
		f.sources[i].opt = opt
	}
	return f.sources, f.skipped, nil
}

// file takes one file that was named by the user: an archive, a file with the
// one that belongs to it, or whatever it is.
func (f *finder) file(base string) {
	name := filepath.Join(f.root, base)
	if f.isArchive(base) {
		f.sources = f.archive(base)
		return
	}
	files := []string{base}
	switch ext := filepath.Ext(base); {
	case strings.EqualFold(ext, ".cfg"):
		if other, err := siblingOf(name, ".dat"); err == nil {
			files = append(files, filepath.Base(other))
		}
	case strings.EqualFold(ext, ".dat"):
		if other, err := siblingOf(name, ".cfg"); err == nil {
			files = []string{filepath.Base(other), base}
		}
	}
	f.sources = []Source{{Name: Stem(base), Dir: f.root, Files: files}}
}

// isArchive tells whether the file is a zip archive of captures: what only uses
// the same container (.npz) is a file of its own format.
func (f *finder) isArchive(rel string) bool {
	if isOne(strings.ToLower(path.Ext(rel)), ".npz", ".xlsx", ".docx", ".odt", ".ods") {
		return false
	}
	head, err := firstBytes(filepath.Join(f.root, filepath.FromSlash(rel)))
	return err == nil && isZip(head)
}

// finder walks one tree.
type finder struct {
	root    string
	opt     Options
	visited map[string]bool
	seen    int // files
	sources []Source
	skipped []Skipped

	zip   *zip.Reader // archive under way, at the path inZip
	inZip string
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
		f.skip(path.Join(".", rel), "a folder of results, and what lies in it; move captures out of it")
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
			if f.walk(child) != nil { // its reading tells why, as that of any other file; the rest goes on
				f.sources = append(f.sources, Source{Name: child, Dir: f.root, Files: []string{child}})
			}
		case !info.Mode().IsRegular():
			f.skip(child, "no regular file")
		default:
			f.seen++
			if f.isArchive(child) {
				f.sources = append(f.sources, f.archive(child)...)
			} else if reason := f.unfit(child); reason != "" {
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

// captureExtensions are those of files that are taken for captures, so that a
// broken one is reported rather than passed over.
var captureExtensions = []string{".csv", ".txt", ".tsv", ".dat", ".asc", ".npy", ".npz", ".mat", ".h5", ".hdf5", ".cfg", ".cff", ".raw", ".parquet"}

// unfit returns why the file is no capture, "" if it may be one.
func (f *finder) unfit(rel string) string {
	base := strings.ToLower(path.Base(rel))
	ext := path.Ext(packed.ReplaceAllString(base, ""))
	switch {
	case strings.HasPrefix(base, "readme") || strings.HasPrefix(base, "license"):
		return "a note, not a capture"
	case isOne(ext, ".md", ".json", ".jsonl", ".toml", ".yaml", ".yml", ".xml", ".ini", ".html", ".pdf", ".doc", ".docx", ".xlsx", ".log"):
		return "a " + ext + " file, not a capture"
	case isOne(ext, ".png", ".jpg", ".jpeg", ".bmp", ".gif", ".tif", ".tiff", ".svg", ".webp"):
		return "a picture, not a capture"
	case isOne(ext, ".hdr", ".inf"):
		return "notes beside a record, not a capture"
	}
	head, err := f.readHead(rel)
	if err != nil {
		if isOne(ext, captureExtensions...) {
			return "" // for reading to report
		}
		return err.Error()
	}
	if isZip(head) && !isOne(ext, captureExtensions...) {
		return "an archive inside an archive"
	}
	return notCapture(head, base, ext)
}

// notCapture tells from the first bytes what the file is, if it is no capture.
func notCapture(head []byte, base, ext string) string {
	known := isOne(ext, captureExtensions...)
	format, ok := pick(head, base)
	switch {
	case !ok && known || len(head) == 0 && known:
		return "" // broken, for reading to report
	case !ok:
		return "no known format"
	case format.Name != textFormat.Name:
		return ""
	}
	x, err := openText(Input{Data: head})
	if err == nil {
		var t table
		if t, err = findTable(x.head); err == nil {
			err = t.giveRoles()
		}
	}
	switch {
	case err == nil:
		return ""
	case err.not != "":
		return err.not
	case !known:
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

// packed matches the extension that a packed file has behind its own.
var packed = regexp.MustCompile(`(?i)\.(gz|zst|bz2)$`)

// Stem drops the extension, and that of a packed file before it.
func Stem(name string) string {
	name = packed.ReplaceAllString(name, "")
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
