// Command versus holds slewbook against energies.py on one campaign, in turns, and
// prints the time a shot of both and their ratio: versus FOLDER [PYTHON], where FOLDER
// is what campaign wrote. Run it in the repository, on a machine that does nothing else;
// processor time tells more where other work runs.
package main

import (
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// turns is how often each is run; the least time counts.
const turns = 3

func main() {
	if err := run(os.Args[1:], os.Stdout); err != nil {
		log.Fatal(err)
	}
}

func run(args []string, w io.Writer) error {
	python := "python3"
	switch len(args) {
	case 2:
		python = args[1]
		fallthrough
	case 1:
	default:
		return errors.New("usage: versus FOLDER [PYTHON]")
	}
	captures, err := filepath.Glob(filepath.Join(args[0], "captures", "*.csv"))
	if err != nil || len(captures) == 0 {
		return errors.Join(err, fmt.Errorf("%s holds no captures/*.csv; write some with examples/benchmark/campaign", args[0]))
	}
	tmp, err := os.MkdirTemp("", "versus")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	program := filepath.Join(tmp, "slewbook.exe")
	if out, err := exec.Command("go", "build", "-o", program, "./cmd/slewbook").CombinedOutput(); err != nil {
		return fmt.Errorf("building slewbook: %w: %s", err, out)
	}
	folder := filepath.Join(args[0], "captures")
	return compare(w, len(captures),
		contestant{"energies.py, e_on and e_off alone", []string{python, filepath.Join("examples", "benchmark", "energies.py"), folder}},
		contestant{"slewbook, all quantities with u", []string{program, "measure", folder, "--setup", filepath.Join(args[0], "bench.toml"),
			"--out", filepath.Join(tmp, "results"), "--redo", "--no-figures", "--quiet"}})
}

// contestant is a command line with a name.
type contestant struct {
	name string
	args []string
}

// times are the clock and the processor time of a run.
type times struct{ clock, processor time.Duration }

// compare runs all by turns and prints the least times a shot, and how many times as
// many shots the last one does as the first.
func compare(w io.Writer, shots int, all ...contestant) error {
	best := make([]times, len(all))
	for turn := range turns {
		for k, c := range all {
			t, err := c.run()
			if err != nil {
				return err
			}
			if turn == 0 {
				best[k] = t
			}
			best[k] = times{min(best[k].clock, t.clock), min(best[k].processor, t.processor)}
		}
	}
	for k, c := range all {
		fmt.Fprintf(w, "%-36s %8.1f ms of clock, %8.1f ms of processor time a shot\n", c.name, ms(best[k].clock, shots), ms(best[k].processor, shots))
	}
	first, last := best[0], best[len(best)-1]
	_, err := fmt.Fprintf(w, "%d shots: %.2f times the throughput by the clock, %.2f by processor time\n", shots,
		first.clock.Seconds()/last.clock.Seconds(), first.processor.Seconds()/last.processor.Seconds())
	return err
}

func ms(d time.Duration, shots int) float64 { return 1e3 * d.Seconds() / float64(shots) }

func (c contestant) run() (times, error) {
	cmd := exec.Command(c.args[0], c.args[1:]...)
	start := time.Now()
	out, err := cmd.CombinedOutput()
	clock := time.Since(start)
	if err != nil {
		return times{}, fmt.Errorf("%s: %w: %s", c.name, err, out[:min(len(out), 500)])
	}
	return times{clock, cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()}, nil
}
