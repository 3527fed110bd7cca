package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/waveform/unit"
)

// Exit states that scripts rely on.
const (
	exitDone   = 0 // all shots measured
	exitShots  = 1 // at least one shot failed or was refused
	exitFailed = 2 // the run could not be done
)

// errShots ends a run in which at least one shot failed; its rows say why.
var errShots = errors.New("at least one capture failed or was refused")

// run is the whole program over its arguments and streams. The result goes to
// stdout and nothing else does.
func run(args []string, stdout, stderr io.Writer) int {
	root := newRootCmd()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	fitHelp(root, stdout)
	err := root.Execute()
	if err == nil {
		return exitDone
	}
	tell(stderr, "%v", err)
	if errors.Is(err, errShots) || errors.Is(err, errRefused) || errors.Is(err, errLosses) || errors.Is(err, errCoverage) {
		return exitShots
	}
	return exitFailed
}

// tell writes a message to people, in the signs that their locale has.
func tell(stderr io.Writer, format string, args ...any) {
	io.WriteString(stderr, inLocale(fmt.Sprintf("slewbook: "+format+"\n", args...)))
}

// inLocale spells units in ASCII where the locale has no other signs.
func inLocale(text string) string {
	if utf8Locale() {
		return text
	}
	return unit.ASCII(text)
}

func newRootCmd() *cobra.Command {
	root := &cobra.Command{
		Use:   "slewbook",
		Short: "Switching quantities from double-pulse captures",
		Long: `slewbook reads folders of double-pulse captures (drain-source voltage, drain
current, gate voltage) and gives switching times, slopes, energies and peaks for
each shot, with the window and levels that each was read with, and a plain
refusal where a capture cannot support a number.

Exit status: 0 all shots measured; 1 at least one shot failed or was refused,
its row says why; 2 the run could not be done.`,
		Version:       readBuild().String(),
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.AddCommand(newMeasureCmd(), newMergeCmd(), newLookCmd(), newListCmd(), newConvertCmd(), newAlignCmd(), newDefinitionsCmd(), newExplainCmd(), newCurvesCmd(), newLossesCmd(), newReportCmd(), newCompareCmd(), newJudgeCmd(), newRepeatCmd(), newPlanCmd(), newSetupCmd(), newDemoCmd(), newValidateCmd(), newVersionCmd(), newManualCmd())
	addCompletions(root)
	return root
}

// fitHelp lays the lists of flags out for the stream that help goes to.
func fitHelp(root *cobra.Command, stdout io.Writer) {
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), "FlagUsages ", fmt.Sprintf("FlagUsagesWrapped %d ", textOptions(stdout).LineWidth())))
}
