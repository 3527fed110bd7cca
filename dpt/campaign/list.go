package campaign

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"regexp"
	"strings"

	"slewbook/dpt/result"
	"slewbook/waveform/format"
)

// Entry is a row of a shot list.
type Entry struct {
	Capture    string // slash path without extension, as in the results
	On         string // capture of the turn-on, where it is another one; else ""
	Line       int
	Conditions []result.Condition
}

// List is a shot list: the plan of a campaign, a row a shot.
type List struct {
	Path    string
	Entries []Entry
	byFile  map[string]int // by the name as it stands there
	byName  map[string]int // by that of the capture
}

// ReadList reads a shot list: CSV with a header of which "file" is one column,
// "file_on" may be another (the capture of the turn-on, where each edge has its
// own), and conditions with their units in the header are the rest. Separators
// are comma, semicolon or tab; with the last two a decimal comma is understood.
// An empty cell says nothing; a column whose header starts with # is passed over. All that is wrong is told at once, with its line.
func ReadList(path string) (*List, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("shot list: %w", err)
	}
	return parseList(path, text)
}

// listReader gathers a list and what is wrong with it.
type listReader struct {
	list    *List
	comma   bool // decimals may have one
	columns []listColumn
	errs    []error
}

type listColumn struct {
	field         // zero for a comment
	symbol string // unit of the header
	title  string // as it stands there
}

// Columns of a list that are no conditions.
const (
	fileColumn = "file"
	onColumn   = "file_on"
)

func parseList(path string, text []byte) (*List, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	r := listReader{list: &List{Path: path, byFile: map[string]int{}, byName: map[string]int{}}}
	in := csv.NewReader(bytes.NewReader(text))
	in.Comma = separator(text)
	r.comma = in.Comma != ','
	in.FieldsPerRecord = -1
	in.TrimLeadingSpace = true
	for {
		row, err := in.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		for k := range row {
			row[k] = plainWords(row[k])
		}
		line, _ := in.FieldPos(0)
		if r.columns == nil {
			r.header(row, line)
			if len(r.errs) > 0 {
				return nil, errors.Join(r.errs...)
			}
			continue
		}
		r.row(row, line)
	}
	if r.columns == nil {
		return nil, fmt.Errorf("%s is empty; expected a header such as %q", path, "file,v_bus (V),i_load (A),tj (°C)")
	}
	if len(r.list.Entries) == 0 && len(r.errs) == 0 {
		r.errs = append(r.errs, fmt.Errorf("%s holds a header and no shot", path))
	}
	if len(r.errs) > 0 {
		return nil, errors.Join(r.errs...)
	}
	r.name()
	return r.list, nil
}

// separator is the one of comma, semicolon and tab that the first line has most
// of.
func separator(text []byte) rune {
	first, _, _ := bytes.Cut(text, []byte("\n"))
	best, most := ',', 0
	for _, sep := range ",;\t" {
		if n := bytes.Count(first, []byte(string(sep))); n > most {
			best, most = sep, n
		}
	}
	return best
}

func (r *listReader) fail(line int, format string, args ...any) {
	r.errs = append(r.errs, fmt.Errorf("%s:%d: %w", r.list.Path, line, fmt.Errorf(format, args...)))
}

func (r *listReader) header(row []string, line int) {
	seen := map[string]bool{}
	for _, text := range row {
		name, symbol, err := heading(text)
		if strings.HasPrefix(strings.TrimSpace(text), "#") {
			name, err = "#", nil
		}
		c := listColumn{symbol: symbol, title: strings.TrimSpace(text)}
		switch {
		case err != nil:
		case name == fileColumn || name == onColumn:
			c.field = field{name: name}
		case name == "" || strings.HasPrefix(name, "#"):
			// A comment, or what a trailing separator makes.
		default:
			if c.field, err = findField(name); err == nil {
				err = c.check(symbol)
			}
		}
		if err != nil {
			r.fail(line, "%w", err)
		}
		if name != "" && name != "#" && seen[name] {
			r.fail(line, "two columns are named %q", name)
		}
		seen[name] = true
		r.columns = append(r.columns, c)
	}
	if !seen[fileColumn] {
		r.fail(line, "no column is named %q; expected one that names the capture file of each shot", fileColumn)
	}
}

func (r *listReader) row(row []string, line int) {
	e := Entry{Line: line}
	blank := true
	for k, text := range row {
		text = strings.TrimSpace(text)
		if text == "" {
			continue
		}
		if k >= len(r.columns) || r.columns[k].title == "" {
			r.fail(line, "%q stands in column %d, which has no header", text, k+1)
			continue
		}
		if r.columns[k].name == "" {
			continue
		}
		blank = false
		switch c := r.columns[k]; c.name {
		case fileColumn:
			e.Capture = slashes(text)
		case onColumn:
			e.On = slashes(text)
		default:
			if r.comma && c.unit != "" {
				text = strings.ReplaceAll(text, ",", ".")
			}
			x, err := c.condition(text, c.symbol)
			if err != nil {
				r.fail(line, "%w", err)
				continue
			}
			e.Conditions = append(e.Conditions, x)
		}
	}
	switch {
	case blank:
		return
	case e.Capture == "":
		r.fail(line, "the row names no file")
		return
	}
	at := len(r.list.Entries)
	for _, file := range []string{e.Capture, e.On} {
		if file == "" {
			continue
		}
		if k, ok := r.list.byFile[file]; ok {
			r.fail(line, "%s stands in line %d already; a file is one shot", file, r.list.Entries[k].Line)
		}
		r.list.byFile[file] = at
		name := captureName(file)
		if _, taken := r.list.byName[name]; taken {
			at = ambiguous
		}
		r.list.byName[name] = at
	}
	r.list.Entries = append(r.list.Entries, e)
}

// name gives the entries the names of their captures.
func (r *listReader) name() {
	for k := range r.list.Entries {
		e := &r.list.Entries[k]
		for _, to := range []*string{&e.Capture, &e.On} {
			if name := captureName(*to); r.list.byName[name] != ambiguous {
				*to = name
			}
		}
	}
}

// ambiguous marks a name that two files share but for their extension: only the
// whole name of a file finds it.
const ambiguous = -1

// slashes is a file's name as the results write it.
func slashes(file string) string { return path.Clean(strings.ReplaceAll(file, `\`, "/")) }

// captureName is the name that a file of a list has in the results: without its
// extension. "name.csv#3" is a segment.
func captureName(file string) string {
	if file == "" {
		return ""
	}
	file, segment, is := strings.Cut(file, "#")
	file = format.Stem(file)
	if is {
		file += "#" + segment
	}
	return file
}

// Find returns the entry of a capture: its own, or that of the file whose
// segment it is. Nil without one, and for a nil list.
func (l *List) Find(capture string) *Entry {
	if l == nil {
		return nil
	}
	file, _, _ := strings.Cut(capture, "#")
	for _, name := range []string{capture, file} {
		for _, index := range []map[string]int{l.byFile, l.byName} {
			if at, ok := index[name]; ok && at != ambiguous {
				return &l.Entries[at]
			}
		}
	}
	return nil
}

// Without returns the rows for which none of the captures stands.
func (l *List) Without(captures []string) []Entry {
	if l == nil {
		return nil
	}
	there := map[string]bool{}
	for _, name := range captures {
		there[name] = true
		if e := l.Find(name); e != nil {
			there[e.Capture] = true
		}
	}
	var out []Entry
	for _, e := range l.Entries {
		if file, _, _ := strings.Cut(e.Capture, "#"); !there[e.Capture] && !there[file] {
			out = append(out, e)
		}
	}
	return out
}

// guarded are words that begin as a formula of a spreadsheet does, behind apostrophes of
// which the first was put there by whoever wrote the table.
var guarded = regexp.MustCompile(`^'+[=+\-@\t\r].`)

// plainWords takes that apostrophe off.
func plainWords(cell string) string {
	if guarded.MatchString(cell) {
		return cell[1:]
	}
	return cell
}
