package format

import (
	"fmt"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// group turns the candidate files of one folder into sources. Where each of
// them holds one channel on the same axis, and their names or headers say that
// the channels differ, they are one shot named for the folder.
func (f *finder) group(rel string, files []string) []Source {
	note := ""
	if len(files) > 1 && !f.opt.Separate {
		same, channels := f.oneChannelEach(files)
		if same && channels {
			name := rel
			if name == "" {
				name = filepath.Base(filepath.Clean(f.root))
				if abs, err := filepath.Abs(f.root); err == nil {
					name = filepath.Base(abs)
				}
			}
			return []Source{{Name: name, Dir: f.root, Files: files,
				Note: fmt.Sprintf("%d files with one channel each and the same time axis, taken as one shot", len(files))}}
		}
		if same {
			note = fmt.Sprintf("one of %d files with one channel each and the same time axis; since neither their names nor their headers tell the channels apart, each was taken as a shot", len(files))
		}
	}
	var all []Source
	for _, file := range files {
		all = append(all, Source{Name: stem(file), Dir: f.root, Files: []string{file}, Note: note})
	}
	return all
}

// oneChannelEach looks at the heads of the files. same tells whether each
// holds a time column and one column of samples, with the same first stamps;
// channels whether the names tell the channels apart.
func (f *finder) oneChannelEach(files []string) (same, channels bool) {
	var first []string
	var names []string
	for i, file := range files {
		t, err := f.headTable(file)
		if err != nil || len(t.columns) != 2 || t.columns[1].skip {
			return false, false
		}
		if i == 0 {
			first = t.columns[0].cells
		} else if !slices.Equal(first, t.columns[0].cells) {
			return false, false
		}
		names = append(names, t.columns[1].name)
	}
	return true, distinct(names) || channelStems(files)
}

// headTable reads the head of a file.
func (f *finder) headTable(rel string) (table, error) {
	head, err := readHead(filepath.Join(f.root, filepath.FromSlash(rel)))
	if err != nil {
		return table{}, err
	}
	if !isText(head, rel) {
		return table{}, fmt.Errorf("%s: not text", rel)
	}
	t, perr := findTable(head)
	if perr != nil {
		return table{}, perr
	}
	return t, nil
}

// distinct tells whether all names differ and none is empty.
func distinct(names []string) bool {
	seen := map[string]bool{"": true}
	for _, n := range names {
		if seen[n] {
			return false
		}
		seen[n] = true
	}
	return true
}

// channelName matches the end of a file name that stands for a channel.
var channelName = regexp.MustCompile(`(?i)(^|[^a-z])(ch(an(nel)?)?[ _-]?\d+|c\d+|math\d*|v_?(ds|gs|ce|ge)|u_?(ds|gs|ce|ge)|i_?[dcglb])$`)

// channelStems tells whether the file names are alike but for the name of a
// channel at their end.
func channelStems(files []string) bool {
	var names []string
	common := ""
	for i, file := range files {
		s := stem(path.Base(file))
		at := channelName.FindStringSubmatchIndex(s)
		if at == nil {
			return false
		}
		prefix := s[:at[4]] // up to the channel itself
		if i == 0 {
			common = prefix
		} else if prefix != common {
			return false
		}
		names = append(names, strings.ToLower(s[at[4]:]))
	}
	return distinct(names)
}
