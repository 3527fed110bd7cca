package format

import (
	"fmt"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"slewbook/waveform"
)

// group turns the candidate files of one folder into sources. Where each of
// them holds one channel on the same axis, and their names or headers say that
// the channels differ, they are one shot named for the folder.
func (f *finder) group(rel string, files []string) []Source {
	pairs, files := f.pairs(files)
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
			return append(pairs, Source{Name: name, Dir: f.root, Files: files,
				Note: fmt.Sprintf("%d files with one channel each and the same time axis, taken as one shot", len(files))})
		}
		if shots := f.byName(rel, files); shots != nil {
			return append(pairs, shots...)
		}
		if same {
			note = fmt.Sprintf("one of %d files with one channel each and the same time axis; since neither their names nor their headers tell the channels apart, each was taken as a shot", len(files))
		}
	}
	all := pairs
	for _, file := range files {
		all = append(all, Source{Name: Stem(file), Dir: f.root, Files: []string{file}, Note: note})
	}
	return all
}

// channelFirst matches the start of a file name that stands for a channel, with
// the shot behind it.
var channelFirst = regexp.MustCompile(`(?i)^(ch(?:an(?:nel)?)?[ _-]?\d+|c\d+|math\d*|v_?(?:ds|gs|ce|ge)|u_?(?:ds|gs|ce|ge)|i_?[dcglb])[ _-]+(.+)$`)

// shotAndChannel takes a file's name apart: "F0001CH2" is channel CH2 of F0001,
// "C2--run--00017" is C2 of run--00017.
func shotAndChannel(file string) (shot, channel string) {
	s := Stem(path.Base(file))
	if at := channelName.FindStringSubmatchIndex(s); at != nil && at[4] > 0 {
		return strings.TrimRight(s[:at[4]], " _-"), strings.ToLower(s[at[4]:])
	}
	if m := channelFirst.FindStringSubmatch(s); m != nil {
		return strings.TrimLeft(m[2], " _-"), strings.ToLower(m[1])
	}
	return "", ""
}

// byName groups the files of several shots by what their names say. Every file
// must name its shot and its channel, and every shot must have the same
// channels; nil where that is not so.
func (f *finder) byName(rel string, files []string) []Source {
	shots := map[string][]string{}
	channels := map[string]string{}
	var order []string
	for _, file := range files {
		shot, ch := shotAndChannel(file)
		if shot == "" || strings.Contains(channels[shot]+" ", " "+ch+" ") {
			return nil
		}
		if shots[shot] == nil {
			order = append(order, shot)
		}
		shots[shot] = append(shots[shot], file)
		channels[shot] += " " + ch
	}
	var all []Source
	for _, shot := range order {
		if len(shots[shot]) < 2 || channels[shot] != channels[order[0]] {
			return nil
		}
		if same, _ := f.oneChannelEach(shots[shot]); !same {
			return nil
		}
		all = append(all, Source{Name: path.Join(rel, shot), Dir: f.root, Files: shots[shot],
			Note: fmt.Sprintf("the names of %d files tell shot and channel: %d shots of %d channels each", len(files), len(order), len(shots[shot]))})
	}
	return all
}

// pairs takes the files out that belong to another, and returns those with
// their others as sources: a COMTRADE configuration and its samples.
func (f *finder) pairs(files []string) (sources []Source, rest []string) {
	for _, file := range files {
		other := func(ext string) string {
			for _, o := range files {
				if strings.EqualFold(path.Ext(o), ext) && strings.EqualFold(Stem(o), Stem(file)) {
					return o
				}
			}
			return ""
		}
		switch ext := path.Ext(file); {
		case strings.EqualFold(ext, ".cfg") && other(".dat") != "":
			sources = append(sources, Source{Name: Stem(file), Dir: f.root, Files: []string{file, other(".dat")}})
		case strings.EqualFold(ext, ".dat") && other(".cfg") != "":
		default:
			rest = append(rest, file)
		}
	}
	return sources, rest
}

// oneChannelEach looks at the heads of the files. same tells whether each
// holds a time column and one column of samples, with the same first stamps;
// channels whether the names tell the channels apart.
func (f *finder) oneChannelEach(files []string) (same, channels bool) {
	var first []string
	var names []string
	for i, file := range files {
		t, err := f.headTable(file)
		if err != nil || t.samples() > 2 {
			return false, false
		}
		k := t.firstTime()
		ch := t.onlyChannel()
		if ch < 0 {
			return false, false
		}
		var stamps []string
		if k >= 0 {
			stamps = t.columns[k].cells
		}
		if i == 0 {
			first = stamps
		} else if !slices.Equal(first, stamps) {
			return false, false
		}
		c := []channel{{col: ch}}
		t.nameChannels(&waveform.Capture{}, c)
		names = append(names, c[0].name)
	}
	return true, distinct(names) || channelStems(files)
}

// onlyChannel returns the one column of samples, -1 if there is another number.
func (t *table) onlyChannel() int {
	at := -1
	for k, c := range t.columns {
		if c.kind != numbers || c.time || (t.counts(k) && t.samples() > 1) {
			continue
		}
		if at >= 0 {
			return -1
		}
		at = k
	}
	return at
}

// headTable reads the head of a file.
func (f *finder) headTable(rel string) (table, error) {
	head, err := f.readHead(rel)
	if err != nil {
		return table{}, err
	}
	if format, ok := pick(head, rel); !ok || format.Name != textFormat.Name {
		return table{}, fmt.Errorf("%s: not text", rel)
	}
	x, perr := openText(Input{Name: rel, Data: head})
	if perr != nil {
		return table{}, perr
	}
	t, perr := findTable(x.head)
	if perr == nil {
		perr = t.giveRoles()
	}
	if perr != nil {
		return table{}, perr
	}
	return t, nil
}

// channelOf returns the part of a file's name that stands for its channel, or
// all of it.
func channelOf(file string) string {
	s := Stem(path.Base(file))
	if at := channelName.FindStringSubmatchIndex(s); at != nil {
		return s[at[4]:]
	}
	if m := channelFirst.FindStringSubmatch(s); m != nil {
		return m[1]
	}
	return s
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
		s := Stem(path.Base(file))
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
