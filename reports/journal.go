package reports

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"sync"
	"time"

	"slewbook/dpt/result"
)

// Origin says what the shots of a source were measured from. Shots of equal
// origins are the same.
type Origin struct {
	Content  string `json:"content"`  // hash of the files and of how they are read, "" if that is not known
	Settings string `json:"settings"` // hash of all that shaped the numbers
	Given    string `json:"given"`    // hash of the version, the conditions and what else goes into the rows
}

// entry is a line that tells what a source gave; the shots themselves are lines
// of their own, found by their hashes. So a line that was torn, or a file that
// was replaced, takes away no more than what it held.
type entry struct {
	Source string `json:"source"`
	Origin
	Figures string   `json:"figures"` // style and formats, "" for none
	Shots   []string `json:"shots"`   // hashes of their lines
}

// entryMark is how the line of an entry starts; that of a shot does not.
var entryMark = []byte(`{"source":`)

// hashLine identifies a line without its end.
func hashLine(line []byte) string {
	sum := sha256.Sum256(line)
	return hex.EncodeToString(sum[:16])
}

// place is where a line stands.
type place struct {
	file *os.File
	at   int64
	size int
}

// journal knows the entries and shots of files of lines, and appends to one of them. It holds hashes and places, no shots.
// Loading aside, it may be used by several goroutines at once.
type journal struct {
	mu      sync.Mutex
	entries map[string][]entry // by source, in the order read
	sources []string           // in the order read
	lines   map[string]place   // of shots, by hash
	files   []*os.File

	out    *os.File // what is appended to
	end    int64
	synced time.Time
}

func newJournal() *journal { return &journal{entries: map[string][]entry{}, lines: map[string]place{}} }

// load reads the lines of a file. A file that is not there holds none, and a
// line that is torn counts for nothing.
func (j *journal) load(path string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	j.files = append(j.files, f)
	_, _, err = j.scan(f)
	return err
}

// scan reads the lines of an open file and returns where its last line that is
// whole ends, and the length.
func (j *journal) scan(f *os.File) (whole, size int64, err error) {
	for in := bufio.NewReaderSize(f, 1<<20); ; {
		line, err := in.ReadBytes('\n')
		if err == io.EOF {
			return whole, whole + int64(len(line)), nil
		}
		if err != nil {
			return whole, whole, err
		}
		j.see(bytes.TrimSuffix(line, []byte("\n")), f, whole)
		whole += int64(len(line))
	}
}

func (j *journal) see(line []byte, f *os.File, at int64) {
	if !bytes.HasPrefix(line, entryMark) {
		j.lines[hashLine(line)] = place{f, at, len(line)}
		return
	}
	var e entry
	if json.Unmarshal(line, &e) == nil {
		if j.entries[e.Source] == nil {
			j.sources = append(j.sources, e.Source)
		}
		j.entries[e.Source] = append(j.entries[e.Source], e)
	}
}

// open reads the file that is appended to, and makes it if it is not there. No
// other run may have it open.
func (j *journal) open(path string) error {
	f, err := openLocked(path)
	if err != nil {
		return err
	}
	j.out, j.files = f, append(j.files, f)
	whole, size, err := j.scan(f)
	if err != nil {
		return err
	}
	if j.end = whole; size > whole { // torn by a kill
		return f.Truncate(whole)
	}
	return nil
}

// find returns the entries of a source whose shots are all there.
func (j *journal) find(source string) []entry {
	j.mu.Lock()
	defer j.mu.Unlock()
	var out []entry
	for _, e := range j.entries[source] {
		if !slices.ContainsFunc(e.Shots, func(sum string) bool { _, ok := j.lines[sum]; return !ok }) {
			out = append(out, e)
		}
	}
	return out
}

// syncEvery is how much work at most a power cut costs; a kill costs none that
// was done.
const syncEvery = time.Second

// add appends an entry and its shots in one write, the entry last, and returns
// it with the hashes of the shots.
func (j *journal) add(e entry, lines [][]byte) (entry, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	var buf []byte
	places := map[string]place{}
	for _, line := range lines {
		sum := hashLine(line)
		e.Shots = append(e.Shots, sum)
		places[sum] = place{j.out, j.end + int64(len(buf)), len(line)}
		buf = append(append(buf, line...), '\n')
	}
	head, err := result.Encode(e)
	if err != nil {
		return e, err
	}
	buf = append(append(buf, head...), '\n')
	if _, err := j.out.WriteAt(buf, j.end); err != nil {
		return e, err
	}
	j.end += int64(len(buf))
	for sum, p := range places {
		j.lines[sum] = p
	}
	if time.Since(j.synced) < syncEvery {
		return e, nil
	}
	j.synced = time.Now()
	return e, j.out.Sync()
}

// line returns the line of that hash.
func (j *journal) line(sum string) ([]byte, error) {
	j.mu.Lock()
	p, ok := j.lines[sum]
	j.mu.Unlock()
	if !ok {
		return nil, fmt.Errorf("no line has the hash %s", sum)
	}
	line := make([]byte, p.size)
	if _, err := p.file.ReadAt(line, p.at); err != nil {
		return nil, err
	}
	if hashLine(line) != sum {
		return nil, fmt.Errorf("%s was changed while it was read", p.file.Name())
	}
	return line, nil
}

// shots reads the shots of an entry.
func (j *journal) shots(e entry) ([]*result.Shot, error) {
	var out []*result.Shot
	for _, sum := range e.Shots {
		line, err := j.line(sum)
		if err != nil {
			return nil, err
		}
		shot := new(result.Shot)
		if err := json.Unmarshal(line, shot); err != nil {
			return nil, err
		}
		out = append(out, shot)
	}
	return out, nil
}

func (j *journal) close() error {
	var errs []error
	for _, f := range j.files {
		errs = append(errs, f.Close())
	}
	j.files = nil
	return errors.Join(errs...)
}
