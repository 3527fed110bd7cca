package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt/result"
	"slewbook/reports"
)

// outputFlags say where the files of a result folder go and what figures there are.
type outputFlags struct {
	figureFlags
	overlay overlayFlags
	locus   string // "" for none, else linear or log
}

func (o *outputFlags) add(cmd *cobra.Command) {
	o.figureFlags.add(cmd)
	o.overlay.add(cmd)
	cmd.Flags().StringVar(&o.locus, "locus", "", "draw the switching locus of each shot, current against voltage, with `axes` linear or log and the limits of the set-up; with --out")
}

// parse checks the flags.
func (o *outputFlags) parse() error {
	err := errors.Join(o.figureFlags.parse(), o.overlay.parse(o.dir))
	switch {
	case o.locus == "":
	case o.locus != "linear" && o.locus != "log":
		err = errors.Join(err, fmt.Errorf("--locus %q: expected linear or log", o.locus))
	case o.dir == "":
		err = errors.Join(err, errors.New("--locus draws figures; give a folder for them with --out"))
	}
	return err
}

// setLocus asks for the locus, with the limits of the set-up file.
func (o *outputFlags) setLocus(b bench) {
	if o.locus == "" {
		return
	}
	o.figures.Locus = &reports.Locus{Log: o.locus == "log"}
	if b.file != nil {
		o.figures.Locus.Ratings = b.file.Ratings()
	}
}

// overlayFlags say what is drawn over each other.
type overlayFlags struct {
	vary string // "" for nothing
	edge string // "on", "off" or "" for both
}

func (o *overlayFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.vary, "overlay", "", "draw shots over each other that differ in one `condition` only: "+strings.Join(reports.OverlayNames(), ", ")+" (each of them, and all shots); with --out")
	cmd.Flags().StringVar(&o.edge, "edge", "", "`edge` of the overlays: on or off (both if not given)")
}

// parse checks the flags; out is the folder of the results.
func (o *overlayFlags) parse(out string) error {
	switch {
	case o.edge != "" && o.edge != "on" && o.edge != "off":
		return fmt.Errorf("--edge %q: expected on or off", o.edge)
	case o.vary == "" && o.edge != "":
		return errors.New("--edge says which edge --overlay draws; give --overlay, too")
	case o.vary == "":
		return nil
	case out == "":
		return errors.New("--overlay draws figures; give a folder for them with --out")
	}
	if err := reports.CheckOverlay(o.vary); err != nil {
		return fmt.Errorf("--overlay: %w", err)
	}
	return nil
}

// cuts returns what overlays need of a shot that still has its traces.
func (o *overlayFlags) cuts(s *result.Shot) []reports.Cut {
	if o.vary == "" {
		return nil
	}
	var out []reports.Cut
	for _, c := range reports.Cuts(s) {
		if o.edge == "" || c.Edge == result.Edge("turn-"+o.edge) {
			out = append(out, c)
		}
	}
	return out
}

// draw writes the overlays, and says so where there is none.
func (o *overlayFlags) draw(folder *reports.Folder, cuts []reports.Cut, stderr io.Writer) error {
	if o.vary == "" {
		return nil
	}
	n, err := folder.AddOverlays(cuts, o.vary)
	if err != nil {
		return err
	}
	if n == 0 {
		tell(stderr, "no overlay: among %d measured edges no two shots differ in that condition only (%s)", len(cuts), o.vary)
	}
	return nil
}
