package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The shell is offered quantity keys, definitions, sets and files by their kind, and
// every command has an example.
func TestCompletion(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"curves", "results", "--quantity", "e_o"}, "e_on\tturn-on energy"},
		{[]string{"explain", "e_"}, "e_off\t"},
		{[]string{"measure", "--definition", "t_rr="}, "t_rr=line-75-50"},
		{[]string{"measure", "--definitions", "igbt"}, "igbt-iec\t"},
		{[]string{"measure", "--energy-window", ""}, "v10-i2"},
		{[]string{"measure", "--setup", ""}, "toml\n:8"}, // ShellCompDirectiveFilterFileExt
		{[]string{"measure", "--align", "s"}, "suggest"},
		{[]string{"rep"}, "report\t"},
	} {
		if out, _ := slewbook(t, exitDone, append([]string{"__complete"}, c.args...)...); !strings.Contains(out, c.want) {
			t.Errorf("%q offers\n%s; want %q", c.args, out, c.want)
		}
	}
	for _, cmd := range newRootCmd().Commands() {
		if !strings.Contains(cmd.Example, "  slewbook "+cmd.Name()) {
			t.Errorf("slewbook %s has no example of itself", cmd.Name())
		}
	}
}

func TestManual(t *testing.T) {
	dir := t.TempDir()
	slewbook(t, exitDone, "manual", dir)
	for _, cmd := range newRootCmd().Commands() {
		page, err := os.ReadFile(filepath.Join(dir, "slewbook-"+cmd.Name()+".1"))
		if err != nil || !strings.Contains(string(page), `.TH "SLEWBOOK-`+strings.ToUpper(cmd.Name())+`" "1"`) {
			t.Errorf("page of %s: %v", cmd.Name(), err)
		}
	}
}
