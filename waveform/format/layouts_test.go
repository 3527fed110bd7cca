package format

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"slewbook/waveform"
)

var update = flag.Bool("update", false, "write the expected readings afresh")

const layouts = "../../testdata/layouts"

// fixtures lists the files of testdata/layouts.
func fixtures(t testing.TB) []string {
	entries, err := os.ReadDir(layouts)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, e := range entries {
		if ext := filepath.Ext(e.Name()); e.Name() != "README.md" && ext != ".want" && ext != ".dat" {
			all = append(all, e.Name())
		}
	}
	return all
}

// reading writes what a file reads as, a line for each capture.
func reading(name string) string {
	var b strings.Builder
	sources, skipped, err := Find(filepath.Join(layouts, name), Options{})
	for _, s := range skipped {
		fmt.Fprintf(&b, "skipped %s: %s\n", s.Path, s.Reason)
	}
	if err != nil {
		return b.String() + "error: " + strings.ReplaceAll(filepath.ToSlash(err.Error()), layouts+"/", "") + "\n"
	}
	for _, s := range sources {
		captures, err := s.Read()
		if err != nil {
			fmt.Fprintf(&b, "error: %s\n", strings.ReplaceAll(filepath.ToSlash(err.Error()), layouts+"/", ""))
		}
		for _, c := range captures {
			fmt.Fprintf(&b, "%s: %s\n", c.Name, c.Layout)
			for _, tr := range c.Traces {
				over, missing := count(tr.Y)
				fmt.Fprintf(&b, "  %s [%s] %d samples from %.6g s every %.6g s: %.6g ... %.6g", tr.Name, tr.Unit, tr.Len(), tr.T0, tr.Dt, tr.Y[0], tr.Y[tr.Len()-1])
				if over+missing > 0 {
					fmt.Fprintf(&b, ", %d over range, %d missing", over, missing)
				}
				b.WriteByte('\n')
			}
			for _, w := range c.Warnings {
				fmt.Fprintf(&b, "  %s: %s\n", w.Code, w.Text)
			}
		}
	}
	return b.String()
}

// Every file reads as it stands beside it.
func TestReadings(t *testing.T) {
	for _, name := range fixtures(t) {
		want := filepath.Join(layouts, name+".want")
		got := reading(name)
		if *update {
			if err := os.WriteFile(want, []byte(got), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		b, err := os.ReadFile(want)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(string(b), got); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

// Every format refuses the files of every other: it does not recognise them.
func TestEveryFormatAgainstEveryFile(t *testing.T) {
	for _, name := range fixtures(t) {
		head, err := headOf(filepath.Join(layouts, name))
		if err != nil {
			t.Fatal(err)
		}
		var by []string
		for _, f := range Formats() {
			if f.Name == textFormat.Name && len(by) > 0 {
				continue // the text reader stands last, behind those with a mark of their own
			}
			if f.Recognise(head, name) {
				by = append(by, f.Name)
			}
		}
		if len(by) > 1 {
			t.Errorf("%s is recognised as %v", name, by)
		}
	}
}

// Whatever reads another format's file all the same must end in an error, and
// never in a panic.
func TestEveryReaderOnEveryFile(t *testing.T) {
	for _, name := range fixtures(t) {
		b, err := os.ReadFile(filepath.Join(layouts, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range Formats() {
			if !f.Recognise(b[:min(len(b), headSize)], name) {
				continue
			}
			// Cut short anywhere it is an error, or the same record with less in it.
			for cut := 0; cut < len(b); cut += max(len(b)/40, 1) {
				short := b[:cut]
				if !f.Recognise(short, name) {
					continue
				}
				captures, err := f.Read(Input{Name: name, Data: bytes.Clone(short)})
				for _, c := range captures {
					if cerr := c.Check(); err == nil && cerr != nil {
						t.Errorf("%s cut to %d bytes: %v", name, cut, cerr)
					}
				}
			}
		}
	}
}

// A reader that is forced on a file that another one recognises refuses it, or
// reads the same samples: companions (the .dat files of COMTRADE) among them.
func TestEveryReaderForcedOnEveryFile(t *testing.T) {
	files := fixtures(t)
	companions, err := filepath.Glob(filepath.Join(layouts, "*.dat"))
	if err != nil || len(companions) == 0 {
		t.Fatal("no companions: ", err)
	}
	for _, name := range companions {
		files = append(files, filepath.Base(name))
	}
	for _, name := range files {
		o, err := openFile(filepath.Join(layouts, name), Options{})
		if err != nil {
			continue // refused before a reader sees it: TestReadings tells
		}
		head, err := o.head()
		if err != nil {
			t.Fatal(err)
		}
		own, known := pick(head, name)
		var want []*waveform.Capture
		if known {
			want, _ = own.Read(o.Input)
		}
		for _, f := range Formats() {
			if f.Name == own.Name {
				continue
			}
			if got, err := f.Read(o.Input); err == nil && !sameSamples(got, want) {
				t.Errorf("%s, a %s, is read as %s: %d captures, %q", name, own.Name, f.Name, len(got), got[0].Layout)
			}
		}
		o.done()
	}
}

// sameSamples tells whether a and b hold the same names, axes and samples.
func sameSamples(a, b []*waveform.Capture) bool {
	return slices.EqualFunc(a, b, func(a, b *waveform.Capture) bool {
		return slices.EqualFunc(a.Traces, b.Traces, func(a, b *waveform.Trace) bool {
			return a.Name == b.Name && a.Unit == b.Unit && a.T0 == b.T0 && a.Dt == b.Dt && slices.Equal(a.Y, b.Y)
		})
	})
}
