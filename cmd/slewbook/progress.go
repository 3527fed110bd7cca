package main

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"slewbook/waveform/unit"
)

// How often progress is told: on a terminal one line is written over and over, in
// a log each is a line of its own.
const (
	onTerminal = 200 * time.Millisecond
	inLog      = 30 * time.Second
)

// progress tells how far a run is.
type progress struct {
	w        io.Writer // nil to be quiet
	terminal bool
	now      func() time.Time

	total, done, kept, failed int // captures
	start, last               time.Time
	width                     int // of the line on the terminal

	verbose bool // a line for each capture in place of how far the run is
	slowest gathered
}

// progress starts to tell it of a run over so many captures.
func (r *measureRun) progress(total int, stderr io.Writer) *progress {
	p := &progress{w: stderr, terminal: isTerminal(stderr), now: time.Now, total: total}
	if r.quiet {
		p.w = nil
	}
	p.verbose = r.verbose
	p.start = p.now()
	p.last = p.start
	return p
}

// isTerminal tells whether people look at the stream and lines on it can be
// written over.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok || os.Getenv("TERM") == "dumb" {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// step counts a capture.
func (p *progress) step(o gathered) {
	p.done++
	if o.took > p.slowest.took {
		p.slowest = o
	}
	if p.verbose {
		for _, line := range o.lines() {
			tell(p.w, "%s", line)
		}
	}
	if o.kept != nil {
		p.kept++
	}
	for _, s := range o.shots {
		if s.Err != nil {
			p.failed++
			break
		}
	}
	every := inLog
	if p.terminal {
		every = onTerminal
	}
	now := p.now()
	if p.w == nil || p.verbose || now.Sub(p.last) < every {
		return
	}
	p.last = now
	if p.terminal {
		p.over(p.line(now))
	} else {
		fmt.Fprintln(p.w, "slewbook:", p.line(now))
	}
}

// lines tell of each shot of a source how long it took, why it was refused, or where its
// energies were read and what was warned of.
func (o gathered) lines() []string {
	took := seconds(o.took)
	if o.kept != nil {
		took = "as an earlier run measured it"
	}
	var out []string
	for _, s := range o.shots {
		if s.Err != nil {
			out = append(out, fmt.Sprintf("%s: %s; refused: %v", s.Capture, took, s.Err))
			continue
		}
		text := s.Capture + ": " + took
		var codes []string
		for _, key := range []string{"e_off", "e_on"} {
			if m := s.Quantity(key); m != nil && m.Over.Duration() > 0 {
				text += fmt.Sprintf("; %s %s from %s to %s", key, m.Definition, unit.Format(m.Over.From, "s", 6), unit.Format(m.Over.To, "s", 6))
			}
		}
		warnings := s.Warnings
		for _, m := range s.Quantities {
			warnings = append(warnings[:len(warnings):len(warnings)], m.Warnings...)
		}
		for _, w := range warnings {
			codes = append(codes, string(w.Code))
		}
		slices.Sort(codes)
		if codes = slices.Compact(codes); len(codes) > 0 {
			text += "; warned of " + strings.Join(codes, ", ")
		}
		out = append(out, text)
	}
	return out
}

// seconds writes a time to three digits.
func seconds(d time.Duration) string { return unit.Format(d.Seconds(), "s", 3) }

// line says what is done, the rate of this run, and the time left at that rate.
func (p *progress) line(now time.Time) string {
	text := fmt.Sprintf("%d of %d captures", p.done, p.total)
	if p.failed > 0 {
		text += fmt.Sprintf(", %d failed", p.failed)
	}
	if measured := p.done - p.kept; measured > 0 {
		rate := float64(measured) / now.Sub(p.start).Seconds()
		left := time.Duration(float64(p.total-p.done) / rate * float64(time.Second))
		text += fmt.Sprintf(", %.3g a second, %s left", rate, left.Round(time.Second))
	}
	return text
}

// over writes the line of the terminal anew.
func (p *progress) over(text string) {
	width := utf8.RuneCountInString(text)
	fmt.Fprintf(p.w, "\r%s%s", text, strings.Repeat(" ", max(0, p.width-width)))
	p.width = width
}

// end takes the line off the terminal, and tells what did not need measuring.
func (p *progress) end() {
	if p.w == nil {
		return
	}
	if p.terminal && p.width > 0 {
		p.over("")
		fmt.Fprint(p.w, "\r")
	}
	if p.verbose && p.done > 0 {
		tell(p.w, "%d captures in %s, most of it for %s: %s", p.done, seconds(p.now().Sub(p.start)), p.slowest.source, seconds(p.slowest.took))
	}
	if p.kept > 0 {
		fmt.Fprintf(p.w, "slewbook: %d of %d captures are as an earlier run measured them; --redo measures them again\n", p.kept, p.total)
	}
}
