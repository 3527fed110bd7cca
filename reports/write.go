package reports

import (
	"bufio"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"slewbook/dpt/result"
)

// Names of the files in a result folder, and of the folders of the figures.
const (
	shotsJSON     = "shots.jsonl"
	shotsCSV      = "shots.csv"
	quantitiesCSV = "quantities.csv"
	quantitiesPq  = "quantities.parquet"
	figuresDir    = "figures"
	overlaysDir   = "overlays"
	matrixName    = "matrix"
)

// Folder writes the results of a run to a directory, whole or not at all. All
// is written to a new directory beside it; Close moves it into place. Result
// files of an earlier run are replaced, its figures removed; files that are not
// ours are left alone. Memory does not grow with the number of shots.
type Folder struct {
	dir, temp string
	opt       FolderOptions
	jsonl     *os.File
	spool     *os.File // shots without traces, for the tables, whose columns are known at the end
	encoder   *gob.Encoder
	wide      wideTable
	long      longTable
}

// FolderOptions says how the figures are drawn.
type FolderOptions struct {
	Style   Style
	Formats []string // of Formats
}

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
	if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
		return nil, err
	}
	temp, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+".unfinished-*")
	if err != nil {
		return nil, err
	}
	f := &Folder{dir: dir, temp: temp, opt: opt}
	if err := f.open(); err != nil {
		return nil, errors.Join(err, f.Abort())
	}
	return f, nil
}

// foreign tells where dir holds files with the names of results that no run of
// ours left: with them there would be a shots.jsonl.
func foreign(dir string) error {
	if _, err := os.Stat(filepath.Join(dir, shotsJSON)); err == nil {
		return nil // what is in it is looked at when it is replaced
	}
	for _, name := range []string{shotsCSV, quantitiesCSV, quantitiesPq, "figures", "overlays"} {
		if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
			return fmt.Errorf("%s holds %s but no %s, so it is no result folder; expected a new or an empty one", dir, name, shotsJSON)
		}
	}
	return nil
}

func (f *Folder) open() error {
	// MkdirTemp makes it private; results are as public as the user's other files.
	if err := os.Chmod(f.temp, 0o755); err != nil {
		return err
	}
	for _, file := range []struct {
		to   **os.File
		name string
	}{{&f.jsonl, shotsJSON}, {&f.spool, "spool"}} {
		out, err := os.Create(filepath.Join(f.temp, file.name))
		if err != nil {
			return err
		}
		*file.to = out
	}
	f.encoder = gob.NewEncoder(f.spool)
	return nil
}

// Add appends the rows of a shot, in the order of the calls, and draws its
// figures if it was measured and still has its traces. Not for concurrent use.
func (f *Folder) Add(s *result.Shot) error {
	if s.Err == nil && s.Traces != nil {
		if err := f.Draw(s); err != nil {
			return err
		}
	}
	if err := WriteShotJSON(f.jsonl, s); err != nil {
		return err
	}
	f.wide.see(s)
	f.long.see(s)
	return f.encoder.Encode(newSpooled(s))
}

// Draw writes the figures of a measured shot, each with its numbers beside it.
// It may be called by several goroutines at once; a pool calls it, drops the
// traces, and leaves Add to one.
func (f *Folder) Draw(s *result.Shot) error {
	figures, err := DrawShot(s, f.opt.Style)
	if err != nil {
		return err
	}
	for _, figure := range figures {
		if err := f.write(figuresDir, figurePath(s.Capture, figure.Part), figure); err != nil {
			return fmt.Errorf("figure of capture %q: %w", s.Capture, err)
		}
	}
	return nil
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
	for _, format := range f.opt.Formats {
		if err := writeNew(filepath.Join(f.temp, matrixName+"."+format), func(w io.Writer) error { return figure.Write(w, format) }); err != nil {
			return err
		}
	}
	return writeNew(filepath.Join(f.temp, matrixName+".csv"), func(w io.Writer) error { return WriteRowsCSV(w, MatrixRows(m)) })
}

// removeMatrix removes the matrix of an earlier run.
func removeMatrix(dir string) error {
	for _, format := range append(Formats(), "csv") {
		if err := os.Remove(filepath.Join(dir, matrixName+"."+format)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// write writes a figure in all formats, and its numbers, to a slash path in a
// folder of figures, without extension.
func (f *Folder) write(dir, path string, figure *Figure) error {
	path = filepath.Join(f.temp, dir, filepath.FromSlash(path))
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	for _, format := range f.opt.Formats {
		if err := writeNew(path+"."+format, func(w io.Writer) error { return figure.Write(w, format) }); err != nil {
			return err
		}
	}
	return writeNew(path+".csv", figure.WriteCSV)
}

// writeNew writes a file that must not exist yet.
func writeNew(path string, write func(io.Writer) error) error {
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	buffered := bufio.NewWriter(out)
	return errors.Join(write(buffered), buffered.Flush(), out.Close())
}

// spooled is a shot on its way to shots.csv. An error travels as its text.
type spooled struct {
	Shot  result.Shot
	Error string
}

func newSpooled(s *result.Shot) spooled {
	out := spooled{Shot: *s}
	out.Shot.Traces, out.Shot.Raw, out.Shot.Err = nil, nil, nil
	out.Shot.Quantities = slices.Clone(s.Quantities)
	for k := range out.Shot.Quantities {
		out.Shot.Quantities[k].Budget = nil
	}
	if s.Err != nil {
		out.Error = s.Err.Error()
	}
	return out
}

// Close finishes the files and moves them into place. If it fails before the
// first file is moved, nothing has changed at the destination.
func (f *Folder) Close() error {
	err := f.finish()
	if err == nil {
		err = f.commit()
	}
	return errors.Join(err, f.Abort())
}

// finish writes the tables from the spool and closes all files.
func (f *Folder) finish() error {
	var wide, long, parquet buffered
	err := errors.Join(wide.create(f.temp, shotsCSV), long.create(f.temp, quantitiesCSV), parquet.create(f.temp, quantitiesPq))
	if err == nil {
		err = f.writeTables(&wide, &long, &parquet)
	}
	if err = errors.Join(err, wide.close(), long.close(), parquet.close(), f.jsonl.Close(), f.spool.Close()); err != nil {
		return err
	}
	return os.Remove(f.spool.Name())
}

func (f *Folder) writeTables(wide, long, parquet io.Writer) error {
	table := newCSVWriter(wide)
	if err := table.Write(f.wide.header()); err != nil {
		return err
	}
	lines, err := newLongCSV(long, &f.long)
	if err != nil {
		return err
	}
	rows := newLongParquet(parquet, &f.long)
	if _, err := f.spool.Seek(0, io.SeekStart); err != nil {
		return err
	}
	for decoder := gob.NewDecoder(bufio.NewReader(f.spool)); ; {
		var s spooled
		err := decoder.Decode(&s)
		if err == io.EOF {
			table.Flush()
			return errors.Join(table.Error(), lines.close(), rows.close())
		}
		if err != nil {
			return err
		}
		if s.Error != "" {
			s.Shot.Err = errors.New(s.Error)
		}
		if err := errors.Join(table.Write(f.wide.row(&s.Shot)), lines.write(&s.Shot), rows.write(&s.Shot)); err != nil {
			return err
		}
	}
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
	return errors.Join(b.Flush(), b.file.Close())
}

// commit moves the finished files into place: the whole folder in one step
// where there is none yet, else each file in one step.
func (f *Folder) commit() error {
	if _, err := os.Stat(f.dir); errors.Is(err, fs.ErrNotExist) {
		return os.Rename(f.temp, f.dir)
	}
	if err := errors.Join(removeFigures(f.dir), removeOverlays(f.dir), removeMatrix(f.dir)); err != nil {
		return err
	}
	return filepath.WalkDir(f.temp, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		rel, err := filepath.Rel(f.temp, path)
		if err != nil {
			return err
		}
		target := filepath.Join(f.dir, rel)
		if err := os.MkdirAll(filepath.Dir(target), 0o777); err != nil {
			return err
		}
		return os.Rename(path, target)
	})
}

// removeFigures removes the figures of the shots that an earlier run listed in
// its shots.jsonl, so that none stays beside results that it does not belong
// to.
func removeFigures(dir string) error {
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
		for _, part := range parts() {
			path := filepath.Join(dir, figuresDir, filepath.FromSlash(figurePath(shot.Capture, part)))
			for _, format := range append(Formats(), "csv") {
				if err := os.Remove(path + "." + format); err != nil && !errors.Is(err, fs.ErrNotExist) {
					return err
				}
			}
		}
	}
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

// Abort removes all that was written. After Close it does nothing.
func (f *Folder) Abort() error {
	for _, file := range []*os.File{f.jsonl, f.spool} {
		if file != nil {
			file.Close() // an open file can't be removed everywhere; closed twice does no harm
		}
	}
	return os.RemoveAll(f.temp)
}
