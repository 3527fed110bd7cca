package reports

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"slewbook/dpt/result"
)

// Names of the files in a result folder, and of the folders of the figures.
const (
	shotsJSON     = "shots.jsonl"
	sourcesJSON   = "sources.jsonl" // what the shots were measured from
	shotsCSV      = "shots.csv"
	quantitiesCSV = "quantities.csv"
	quantitiesPq  = "quantities.parquet"
	figuresDir    = "figures"
	overlaysDir   = "overlays"
	lociDir       = "loci"
	waveformsDir  = "waveforms"
	reportName    = "report.html"
	matrixName    = "matrix"
	journalName   = "journal.jsonl" // of a run that goes on
)

// Folder writes the results of a run to a directory, whole or not at all. What
// is done stands in a directory beside it, shot by shot, so that a run that was
// stopped at any moment goes on where it was; Close moves it into place. Result
// files of an earlier run are replaced, its figures removed; files that are not
// ours are left alone. Memory does not grow with the number of shots but by
// hashes.
type Folder struct {
	dir, temp string
	opt       FolderOptions
	journal   *journal
	order     []entry           // of this run
	added     map[string]bool   // its sources
	earlier   []string          // sources of the results that are replaced
	captures  map[string]string // its shots; how each was drawn
	measured  map[string]bool   // those that were measured
	wide      wideTable
	long      longTable
	tabled    bool // the tables are written
}

// FolderOptions says which figures are drawn, and how.
type FolderOptions struct {
	Style   Style
	Formats []string // of Formats
	NoShots bool     // draw no figure of each shot
	Locus   *Locus   // how its locus is drawn, nil for not at all
}

// drawn tells how each shot is drawn, "" for not at all.
func (o FolderOptions) drawn() string {
	if o.NoShots {
		return ""
	}
	how := o.Style.Name + " " + strings.Join(o.Formats, ",")
	if o.Locus != nil {
		how += fmt.Sprintf(" locus %+v", *o.Locus)
	}
	return how
}

// extensions are those of the files of a figure that was drawn so.
func extensions(drawn string) []string {
	words := strings.Fields(drawn)
	if len(words) < 2 {
		return nil
	}
	return append(each(strings.Split(words[1], ","), func(format string) string { return "." + format }), ".csv")
}

// hasLocus tells whether a shot that was drawn so has a figure of its locus.
func hasLocus(drawn string) bool { return strings.Contains(drawn, " locus ") }

// DefaultFolder returns the options for figures on a screen.
func DefaultFolder() FolderOptions {
	return FolderOptions{Style: Styles()[0], Formats: []string{"png", "svg"}}
}

// Validate checks the options.
func (o FolderOptions) Validate() error {
	for _, format := range o.Formats {
		if err := CheckFormat(format); err != nil {
			return err
		}
	}
	return o.Style.Validate()
}

// NewFolder starts a result folder at dir, which may exist. After it call Close
// or Abort.
func NewFolder(dir string, opt FolderOptions) (*Folder, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	dir = filepath.Clean(dir)
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return nil, fmt.Errorf("%s is a file; expected a folder, or a name that is not taken, for the results", dir)
	}
	if err := foreign(dir); err != nil {
		return nil, err
	}
	f := &Folder{dir: dir, temp: filepath.Join(filepath.Dir(dir), "."+filepath.Base(dir)+".unfinished"), opt: opt,
		journal: newJournal(), added: map[string]bool{}, captures: map[string]string{}, measured: map[string]bool{}}
	if err := os.MkdirAll(f.temp, 0o777); err != nil {
		return nil, err
	}
	if err := f.open(); err != nil {
		return nil, errors.Join(err, f.journal.close())
	}
	return f, nil
}

// foreign tells where dir holds files with the names of results that no run of
// ours left: with them there would be a shots.jsonl.
func foreign(dir string) error {
	if exists(filepath.Join(dir, shotsJSON)) {
		return eachCapture(dir, func(string) error { return nil })
	}
	for _, name := range []string{shotsCSV, quantitiesCSV, quantitiesPq, figuresDir, overlaysDir, lociDir, waveformsDir, reportName} {
		if exists(filepath.Join(dir, name)) {
			return fmt.Errorf("%s holds %s but no %s, so it is no result folder; expected a new or an empty one", dir, name, shotsJSON)
		}
	}
	return nil
}

// ofShots tells of a folder in the results whether it holds files of each shot.
func ofShots(name string) bool {
	return name == figuresDir || name == lociDir || name == waveformsDir
}

// open loads what earlier runs have left: results, and what one that was stopped
// had done. The rest of the latter is removed.
func (f *Folder) open() error {
	if err := f.journal.open(filepath.Join(f.temp, journalName)); err != nil {
		return err
	}
	left, err := os.ReadDir(f.temp)
	if err != nil {
		return err
	}
	for _, e := range left {
		if e.Name() != journalName && !ofShots(e.Name()) {
			if err := os.RemoveAll(filepath.Join(f.temp, e.Name())); err != nil {
				return err
			}
		}
	}
	of := len(f.journal.sources)
	if err := f.journal.load(filepath.Join(f.dir, sourcesJSON)); err != nil {
		return err
	}
	f.earlier = slices.Clone(f.journal.sources[of:])
	return f.journal.load(filepath.Join(f.dir, shotsJSON))
}

// Known tells whether an earlier run has left shots of that source, of whatever
// origin.
func (f *Folder) Known(source string) bool { return len(f.journal.find(source)) > 0 }

// Kept is what an earlier run has left of a source.
type Kept struct {
	shots []*result.Shot // without traces
	entry entry
}

// Rows returns the shots, without traces.
func (k *Kept) Rows() []*result.Shot {
	if k == nil {
		return nil
	}
	return k.shots
}

// Kept returns what an earlier run has left of a source, nil if there is nothing
// of the origin that such captures have now, or if a figure that is asked for, or the
// waveforms, are not there. It may be called by several goroutines at once.
func (f *Folder) Kept(source string, origin func(captures []string) Origin) (*Kept, error) {
	for _, e := range f.journal.find(source) {
		if e.Content == "" || f.opt.drawn() != "" && e.Figures != f.opt.drawn() {
			continue
		}
		shots, err := f.journal.shots(e)
		if err != nil {
			return nil, err
		}
		if e.Origin != origin(each(shots, func(s *result.Shot) string { return s.Capture })) {
			continue
		}
		if !slices.ContainsFunc(shots, func(s *result.Shot) bool { return s.Err == nil && !f.complete(s.Capture) }) {
			e.Figures = f.opt.drawn()
			return &Kept{shots, e}, nil
		}
	}
	return nil, nil
}

// complete tells whether the waveforms of a capture are there, and the figures that
// are asked for, whole.
func (f *Folder) complete(capture string) bool {
	there := func(path string) bool {
		return exists(filepath.Join(f.temp, path)) || exists(filepath.Join(f.dir, path))
	}
	if !there(filepath.FromSlash(waveformsPath(capture))) {
		return false
	}
	if f.opt.drawn() == "" {
		return true
	}
	any := false
	for _, path := range shotPaths(capture) {
		path = filepath.FromSlash(path)
		n := 0
		all := extensions(f.opt.drawn())
		for _, ext := range all {
			if there(path + ext) {
				n++
			}
		}
		if n > 0 && n < len(all) {
			return false
		}
		any = any || n > 0
	}
	return any
}

// Add appends the rows of what a source gave, in the order of the calls, and
// notes it as done. Not for concurrent use.
func (f *Folder) Add(source string, from Origin, shots []*result.Shot) error {
	if err := f.see(source, f.opt.drawn(), shots); err != nil {
		return err
	}
	lines := make([][]byte, len(shots))
	for k, s := range shots {
		var err error
		if lines[k], err = result.Encode(s); err != nil {
			return err
		}
	}
	e, err := f.journal.add(entry{Source: source, Origin: from, Figures: f.opt.drawn()}, lines)
	f.order = append(f.order, e)
	return err
}

// Keep is Add for what an earlier run has left.
func (f *Folder) Keep(k *Kept) error {
	f.order = append(f.order, k.entry)
	return f.see(k.entry.Source, k.entry.Figures, k.shots)
}

// see takes note of a source, how it was drawn, and of the columns that its shots
// need.
func (f *Folder) see(source, drawn string, shots []*result.Shot) error {
	if f.added[source] {
		return fmt.Errorf("capture %q: two sources have that name", source)
	}
	f.added[source] = true
	for _, s := range shots {
		f.captures[s.Capture] = ""
		if s.Err == nil {
			f.captures[s.Capture], f.measured[s.Capture] = drawn, true
		}
		f.wide.see(s)
		f.long.see(s)
	}
	return nil
}

// Draw writes the waveforms of a measured shot for reports, and its figures, each
// with its numbers beside it.
// It may be called by several goroutines at once; a pool calls it, drops the
// traces, and leaves Add to one.
func (f *Folder) Draw(s *result.Shot) error {
	if err := f.writeWaveforms(s); err != nil {
		return err
	}
	if f.opt.NoShots {
		return nil
	}
	figures, err := DrawShot(s, f.opt.Style)
	if err != nil {
		return err
	}
	for _, figure := range figures {
		if err := f.write(figuresDir, figurePath(s.Capture, figure.Part), figure); err != nil {
			return fmt.Errorf("figure of capture %q: %w", s.Capture, err)
		}
	}
	if f.opt.Locus == nil {
		return nil
	}
	locus, err := DrawLocus(s, *f.opt.Locus, f.opt.Style)
	if err == nil && locus != nil {
		err = f.write(lociDir, figurePath(s.Capture, ""), locus)
	}
	if err != nil {
		return fmt.Errorf("locus of capture %q: %w", s.Capture, err)
	}
	return nil
}

func (f *Folder) writeWaveforms(s *result.Shot) error {
	waves := Compact(s)
	if waves == nil {
		return nil
	}
	text, err := json.Marshal(waves)
	if err != nil {
		return err
	}
	return f.addWaveforms(s.Capture, text)
}

func (f *Folder) addWaveforms(capture string, text []byte) error {
	path := filepath.Join(f.temp, filepath.FromSlash(waveformsPath(capture)))
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	return os.WriteFile(path, append(text, '\n'), 0o666)
}

// AddOverlays writes the overlays that vary the named condition, and returns
// how many there are.
func (f *Folder) AddOverlays(cuts []Cut, name string) (int, error) {
	figures, err := DrawOverlays(cuts, name, f.opt.Style)
	if err != nil {
		return 0, err
	}
	for _, figure := range figures {
		if err := f.write(overlaysDir, figure.Part, figure); err != nil {
			return 0, fmt.Errorf("overlay %s: %w", figure.Part, err)
		}
	}
	return len(figures), nil
}

// AddMatrix writes the matrix of a campaign and its figure, nothing where it has
// no cell.
func (f *Folder) AddMatrix(m result.Matrix) error {
	if len(m.Cells) == 0 {
		return nil
	}
	figure, err := DrawMatrix(m, f.opt.Style)
	if err != nil {
		return err
	}
	path := filepath.Join(f.temp, matrixName)
	if err := figure.WriteAll(path, f.opt.Formats, writeNew); err != nil {
		return err
	}
	return writeNew(path+".csv", func(w io.Writer) error { return WriteRowsCSV(w, MatrixRows(m)) })
}

// Left returns how many sources of the results that were there are none of this run's:
// Close removes what they gave.
func (f *Folder) Left() int {
	n := 0
	for _, source := range f.earlier {
		if !f.added[source] {
			n++
		}
	}
	return n
}

// Len returns how many shots were added.
func (f *Folder) Len() int { return len(f.captures) }

// Waveforms reads those of a shot that was added, as ReadWaveforms does.
func (f *Folder) Waveforms(capture string) ([]byte, error) {
	text, err := ReadWaveforms(f.temp, capture, capture)
	if errors.Is(err, fs.ErrNotExist) {
		return ReadWaveforms(f.dir, capture, capture)
	}
	return text, err
}

// AddReport writes the report of the run.
func (f *Folder) AddReport(write func(io.Writer) error) error {
	return writeNew(filepath.Join(f.temp, reportName), write)
}

// write writes a figure in all formats, and its numbers, to a slash path in a
// folder of figures, without extension.
func (f *Folder) write(dir, path string, figure *Figure) error {
	path = filepath.Join(f.temp, dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	if err := figure.WriteAll(path, f.opt.Formats, writeNew); err != nil {
		return err
	}
	return writeNew(path+".csv", figure.WriteCSV)
}

// writeNew writes a file; one of a run that was stopped may be in its place.
func writeNew(path string, write func(io.Writer) error) error {
	out, err := os.Create(path)
	if err != nil {
		return err
	}
	buffered := bufio.NewWriter(out)
	return errors.Join(write(buffered), buffered.Flush(), out.Close())
}

// Close finishes the files and moves them into place. If it fails before the
// first file is moved, nothing has changed at the destination.
func (f *Folder) Close() error {
	if !f.tabled {
		if err := f.WriteTables(func(*result.Shot) {}); err != nil {
			return err
		}
	}
	if err := errors.Join(f.dropStale(), f.journal.close()); err != nil {
		return err
	}
	return f.commit()
}

// WriteTables writes the tables and the lines of the shots that were added, and shows
// each of them, in their order and without traces. Close calls it where nobody has;
// after it nothing can be added.
func (f *Folder) WriteTables(each func(*result.Shot)) error {
	f.tabled = true
	files := map[string]*buffered{}
	var err error
	for _, name := range []string{shotsCSV, quantitiesCSV, quantitiesPq, shotsJSON, sourcesJSON} {
		files[name] = new(buffered)
		err = errors.Join(err, files[name].create(f.temp, name))
	}
	if err == nil {
		err = f.writeTables(files[shotsCSV], files[quantitiesCSV], files[quantitiesPq], files[shotsJSON], files[sourcesJSON], each)
	}
	for _, file := range files {
		err = errors.Join(err, file.close())
	}
	return err
}

func (f *Folder) writeTables(wide, long, parquet, lines, sources io.Writer, each func(*result.Shot)) error {
	shotRows := newCSVWriter(wide)
	if err := shotRows.Write(f.wide.header()); err != nil {
		return err
	}
	rows, err := newLongCSV(long, &f.long)
	if err != nil {
		return err
	}
	binary := newLongParquet(parquet, &f.long)
	for _, e := range f.order {
		for _, sum := range e.Shots {
			line, err := f.journal.line(sum)
			if err != nil {
				return err
			}
			s := new(result.Shot)
			if err := json.Unmarshal(line, s); err != nil {
				return err
			}
			_, err = lines.Write(append(line, '\n'))
			if err := errors.Join(err, shotRows.Write(f.wide.row(s)), rows.write(s), binary.write(s)); err != nil {
				return err
			}
			each(s)
		}
		if err := writeJSONLine(sources, e); err != nil {
			return err
		}
	}
	shotRows.Flush()
	return errors.Join(shotRows.Error(), rows.close(), binary.close())
}

// buffered is a new file that is written through a buffer.
type buffered struct {
	*bufio.Writer
	file *os.File
}

func (b *buffered) create(dir, name string) (err error) {
	b.file, err = os.Create(filepath.Join(dir, name))
	b.Writer = bufio.NewWriter(b.file)
	return err
}

func (b *buffered) close() error {
	if b.file == nil {
		return nil
	}
	return errors.Join(b.Flush(), b.file.Sync(), b.file.Close())
}
