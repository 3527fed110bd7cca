package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
	"unicode/utf8"
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
}

// progress starts to tell it of a run over so many captures.
func (r *measureRun) progress(total int, stderr io.Writer) *progress {
	p := &progress{w: stderr, terminal: isTerminal(stderr), now: time.Now, total: total}
	if r.quiet {
		p.w = nil
	}
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
	if p.w == nil || now.Sub(p.last) < every {
		return
	}
	p.last = now
	if p.terminal {
		p.over(p.line(now))
	} else {
		fmt.Fprintln(p.w, "slewbook:", p.line(now))
	}
}

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
	if p.kept > 0 {
		fmt.Fprintf(p.w, "slewbook: %d of %d captures are as an earlier run measured them; --redo measures them again\n", p.kept, p.total)
	}
}
