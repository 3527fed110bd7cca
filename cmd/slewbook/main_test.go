package main

import (
	"errors"
	"os"
	"os/exec"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// asProgram in the environment makes the test binary the program itself, for tests
// that kill it.
const asProgram = "SLEWBOOK_AS_PROGRAM"

// TestMain lets the scripts run this very program under the name slewbook.
func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
	}
	testscript.Main(m, map[string]func(){"slewbook": main})
}

// TestScripts runs testdata/script: what a user types, what comes out on which
// stream, and the exit status.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"status": status},
	})
}

// status runs a command and demands its exit status: status N slewbook ...
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command [argument...]")
	}
	err := ts.Exec(args[1], args[2:]...)
	if got := exitStatus(err); got != args[0] {
		ts.Fatalf("%v: exit status %s, want %s", args[1:], got, args[0])
	}
}

// exitStatus is what a command ended with, in words where it never ran.
func exitStatus(err error) string {
	var exit *exec.ExitError
	switch {
	case err == nil:
		return "0"
	case errors.As(err, &exit):
		return strconv.Itoa(exit.ExitCode())
	}
	return err.Error()
}
