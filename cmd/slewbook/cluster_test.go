//go:build cluster && unix

package main

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// The job scripts of the examples, on a cluster of one node that the test starts
// for itself on loopback, as root, give the bytes of one run over the campaign.
// One task is killed while it measures, and given again.
func TestClusterOfOneNode(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	build := exec.Command("go", "build", "-o", at("bin/slewbook"), ".")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Setenv("PATH", at("bin")+":"+os.Getenv("PATH"))
	startCluster(t, dir)

	captures := copyCampaign(t, 5)
	setup := filepath.Join(root, "examples", "bench.toml")
	setup, err := filepath.Abs(setup)
	if err != nil {
		t.Fatal(err)
	}
	scripts, err := filepath.Abs(filepath.Join(root, "examples", "cluster"))
	if err != nil {
		t.Fatal(err)
	}
	command := func(name string, args ...string) string {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s %q: %v\n%s", name, args, err, out)
		}
		return strings.TrimSpace(string(out))
	}
	measure := []string{filepath.Join(scripts, "measure.sh"), captures, setup, at("results"), "4"}
	job := command("sbatch", append([]string{"--parsable", "--array=1-4"}, measure...)...)
	waitForGrowth(at("results/.part-1.unfinished/journal.jsonl"))
	command("scancel", "--signal=KILL", "--full", job+"_1")
	again := command("sbatch", append([]string{"--parsable", "--array=1", "--dependency=afterany:" + job}, measure...)...)
	command("sbatch", "--wait", "--dependency=afterok:"+again, filepath.Join(scripts, "merge.sh"), setup, at("results"))

	command("slewbook", "measure", captures, "--setup", setup, "--out", at("alone"), "--no-figures", "--json")
	if d := cmp.Diff(tree(t, at("alone")), tree(t, at("results/all"))); d != "" {
		logs, _ := filepath.Glob(at("slurm-*.out"))
		for _, log := range logs {
			text, _ := os.ReadFile(log)
			t.Logf("%s:\n%s", log, text)
		}
		t.Errorf("the merged results differ (-alone +cluster):\n%s", d)
	}
}

// startCluster starts Slurm with its authentication in a directory and ends it
// with the test.
func startCluster(t *testing.T, dir string) {
	t.Helper()
	at := func(name string) string { return filepath.Join(dir, "cluster", name) }
	for _, name := range []string{"state", "spool"} {
		if err := os.MkdirAll(at(name), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	key := make([]byte, 128)
	if _, err := rand.Read(key); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at("munge.key"), key, 0o600); err != nil {
		t.Fatal(err)
	}
	host, err := os.Hostname() // the controller runs nowhere else
	if err != nil {
		t.Fatal(err)
	}
	config := fmt.Sprintf(`ClusterName=one
SlurmctldHost=%[1]s(127.0.0.1)
SlurmUser=root
SlurmctldPort=%[2]d
SlurmdPort=%[3]d
AuthInfo=socket=%[4]s
CredType=cred/munge
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
StateSaveLocation=%[5]s
SlurmdSpoolDir=%[6]s
SlurmctldPidFile=%[7]s
SlurmdPidFile=%[8]s
ReturnToService=2
MinJobAge=300
SchedulerParameters=bf_interval=1,sched_interval=1
NodeName=%[1]s NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
`, host, freePort(t), freePort(t), at("munge.sock"), at("state"), at("spool"), at("slurmctld.pid"), at("slurmd.pid"))
	if err := os.WriteFile(at("slurm.conf"), []byte(config), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Setenv("SLURM_CONF", at("slurm.conf"))
	for _, command := range [][]string{
		{"munged", "--foreground", "--force", "--key-file", at("munge.key"), "--socket", at("munge.sock"), "--pid-file", at("munged.pid"), "--log-file", at("munged.log"), "--seed-file", at("munged.seed")},
		{"slurmctld", "-D", "-f", at("slurm.conf")},
		{"slurmd", "-D", "-f", at("slurm.conf"), "-N", host},
	} {
		var log bytes.Buffer
		cmd := exec.Command(command[0], command[1:]...)
		cmd.Stdout, cmd.Stderr = &log, &log
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			cmd.Process.Signal(os.Interrupt)
			done := make(chan error, 1)
			go func() { done <- cmd.Wait() }()
			select {
			case <-done:
			case <-time.After(10 * time.Second):
				cmd.Process.Kill()
				<-done
			}
			if t.Failed() {
				t.Logf("%s:\n%s", command[0], log.String())
			}
		})
		if command[0] == "munged" {
			waitForGrowth(at("munged.pid"))
		}
	}
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(100 * time.Millisecond) {
		out, err := exec.Command("sinfo", "--noheader", "--format=%t").CombinedOutput()
		if err == nil && strings.TrimSpace(string(out)) == "idle" {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("the node does not come up: %v %s", err, out)
		}
	}
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}
