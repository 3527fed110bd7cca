package format

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"path"
	"strings"
	"sync"

	"slewbook/waveform"
)

// Read reads the captures of the source: one, or one for each segment. Errors
// of content are *ParseError.
func (s Source) Read() ([]*waveform.Capture, error) {
	parts, sums, err := s.readParts()
	if err != nil {
		return nil, err
	}
	captures := parts[0]
	if len(parts) > 1 {
		c, err := s.merge(parts)
		if err != nil {
			return nil, err
		}
		captures = []*waveform.Capture{c}
	}
	for i, c := range captures {
		c.Name = s.Name
		if len(captures) > 1 {
			c.Name = fmt.Sprintf("%s#%d", s.Name, i+1)
		}
		c.Files, c.SHA256 = s.Files, sums
		if err := c.Check(); err != nil {
			return nil, &ParseError{File: s.paths()[0], Offset: -1, Found: err.Error()}
		}
		flagFlatTops(c)
	}
	return captures, nil
}

// readParts reads the files of the source, or the members of its archive.
func (s Source) readParts() (parts [][]*waveform.Capture, sums []string, err error) {
	if len(s.members) > 0 {
		return s.readMembers()
	}
	paths := s.paths()
	for i, p := range paths {
		captures, sum, err := readFile(p, s.opt, s.isCompanion(i))
		if err != nil {
			return nil, nil, err
		}
		sums = append(sums, sum)
		if captures != nil {
			parts = append(parts, captures)
		}
	}
	return parts, sums, nil
}

// isCompanion tells whether file i is read with another, as the samples of a
// COMTRADE record with its configuration.
func (s Source) isCompanion(i int) bool {
	if !strings.EqualFold(path.Ext(s.Files[i]), ".dat") {
		return false
	}
	for k, f := range s.Files {
		if k != i && strings.EqualFold(path.Ext(f), ".cfg") && strings.EqualFold(Stem(f), Stem(s.Files[i])) {
			return true
		}
	}
	return false
}

// readMembers reads members of an archive.
func (s Source) readMembers() (parts [][]*waveform.Capture, sums []string, err error) {
	name := s.paths()[0]
	o, err := openFile(name, s.opt)
	if err != nil {
		return nil, nil, err
	}
	defer o.done()
	z, err := zip.NewReader(o.file, o.size)
	if err != nil {
		return nil, nil, o.fault("an archive that "+packingFault(err), "a zip archive", "pack it again")
	}
	for _, m := range s.members {
		in, err := member(z, name, m, s.opt)
		if err != nil {
			return nil, nil, err
		}
		captures, err := readInput(in)
		if err != nil {
			return nil, nil, err
		}
		parts = append(parts, captures)
	}
	sum, err := o.sum()
	return parts, []string{sum}, err
}

// readFile reads one file and returns the hash of its bytes as on disk. Of a
// companion there is only the hash.
func readFile(name string, opt Options, companion bool) (captures []*waveform.Capture, sum string, err error) {
	o, err := openFile(name, opt)
	if o != nil {
		defer o.done()
	}
	if err != nil {
		return nil, "", err
	}
	if !companion {
		if captures, err = readInput(o.Input); err != nil {
			return nil, "", err
		}
	}
	sum, err = o.sum()
	return captures, sum, err
}

// readInput reads a file by the format that recognises it.
func readInput(in Input) ([]*waveform.Capture, error) {
	head, err := in.head()
	if err != nil {
		return nil, err
	}
	f, ok := pick(head, in.Name)
	if !ok {
		found := "bytes of no known format, which start " + quote(head[:min(len(head), 12)])
		if at := bytes.IndexFunc(head, isControl); at >= leastText {
			found = fmt.Sprintf("text that is broken at byte %d by %s", at, quote(head[at:min(len(head), at+4)]))
		}
		return nil, in.fault(found, "one of "+formatNames()+", plain or packed", "")
	}
	return f.Read(in)
}

// merge puts the channels of one shot, a file each, into one capture.
func (s Source) merge(parts [][]*waveform.Capture) (*waveform.Capture, error) {
	all := parts[0][0]
	files := s.parts()
	names := make([]string, len(parts))
	for i, p := range parts {
		if len(p) != 1 || len(p[0].Traces) != 1 {
			return nil, &ParseError{File: files[i], Offset: -1, Found: "a file that does not hold one channel", Expected: "one channel as in the files beside it"}
		}
		a, b := all.Traces[0], p[0].Traces[0]
		if b.T0 != a.T0 || b.Dt != a.Dt || len(b.Y) != len(a.Y) {
			return nil, &ParseError{File: files[i], Offset: -1,
				Found:    fmt.Sprintf("%d samples from %s every %s", len(b.Y), seconds(b.T0), seconds(b.Dt)),
				Expected: fmt.Sprintf("the time axis of %s: %d samples from %s every %s", path.Base(files[0]), len(a.Y), seconds(a.T0), seconds(a.Dt)),
				Do:       "keep the files of one shot in one folder"}
		}
		names[i] = b.Name
	}
	keep := distinct(names)
	for i, p := range parts {
		tr := p[0].Traces[0]
		if !keep {
			rename(p[0], channelOf(files[i]))
		}
		if i == 0 {
			continue
		}
		all.Traces = append(all.Traces, tr)
		all.Warnings = append(all.Warnings, p[0].Warnings...)
	}
	return all, nil
}

// rename names the one trace of a capture, in its warnings too.
func rename(c *waveform.Capture, name string) {
	for i, w := range c.Warnings {
		if w.Channel == c.Traces[0].Name {
			c.Warnings[i].Channel = name
		}
	}
	c.Traces[0].Name = name
}

// parts returns the paths of the files, or of the members of the archive.
func (s Source) parts() []string {
	paths := s.paths()
	if len(s.members) == 0 {
		return paths
	}
	var all []string
	for _, m := range s.members {
		all = append(all, paths[0]+"/"+m)
	}
	return all
}

// flagFlatTops turns the samples that a converter clipped into over-range ones
// and says so. It is the one place where that is done.
func flagFlatTops(c *waveform.Capture) {
	found := make([][]waveform.Run, len(c.Traces))
	var wg sync.WaitGroup
	for k, tr := range c.Traces {
		wg.Go(func() {
			if found[k] = waveform.FlatTops(tr.Y); len(found[k]) > 0 && tr.Recorded.Points == 0 {
				tr.Recorded = recordedOf(tr.Y)
			}
		})
	}
	wg.Wait()
	for k, tr := range c.Traces {
		runs, n := found[k], 0
		for _, r := range runs {
			for i := r.First; i <= r.Last; i++ {
				tr.Y[i] = math.Inf(r.Sign)
			}
			n += r.Last - r.First + 1
		}
		tr.Recorded.OverRange += n
		if n > 0 {
			over := waveform.Interval{From: tr.Time(runs[0].First), To: tr.Time(runs[len(runs)-1].Last)}
			c.Warnings = append(c.Warnings, waveform.Warning{Code: waveform.FlatTop, Channel: tr.Name, Over: over,
				Text: fmt.Sprintf("%d samples of %s stand flat at the end of its range and count as over range", n, tr.Name)})
		}
	}
}
