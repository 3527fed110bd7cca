package reports

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"slewbook/dpt/result"
)

// writeJournal appends entries of two shots each and closes the journal.
func writeJournal(t *testing.T, path string, from, to int) {
	t.Helper()
	j := newJournal()
	if err := j.open(path); err != nil {
		t.Fatal(err)
	}
	j.synced = time.Now() // a disk need not be waited for here
	for k := from; k < to; k++ {
		var lines [][]byte
		for n := range 2 {
			line, err := result.Encode(&result.Shot{Capture: fmt.Sprintf("shot-%d#%d", k, n)})
			if err != nil {
				t.Fatal(err)
			}
			lines = append(lines, line)
		}
		if _, err := j.add(entry{Source: fmt.Sprintf("shot-%d", k), Origin: Origin{Content: "c"}}, lines); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.close(); err != nil {
		t.Fatal(err)
	}
}

// A journal that was cut anywhere holds the entries that were written whole,
// and goes on from there.
func TestJournalCut(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, journalName)
	writeJournal(t, path, 0, 3)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	last := -1
	for cut := 0; cut <= len(whole); cut = min(cut+7, max(cut+1, len(whole))) {
		if err := os.WriteFile(path, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		j := newJournal()
		if err := j.open(path); err != nil {
			t.Fatal(err)
		}
		done := 0
		for done < 3 && len(j.find(fmt.Sprintf("shot-%d", done))) == 1 {
			done++
		}
		if err := j.close(); err != nil {
			t.Fatal(err)
		}
		if done < last {
			t.Fatalf("cut at %d: %d entries, with less there were %d", cut, done, last)
		}
		last = done
		writeJournal(t, path, done, 3)
		if err := j.load(path); err != nil {
			t.Fatal(err)
		}
		for k := range 3 {
			entries := j.find(fmt.Sprintf("shot-%d", k))
			if len(entries) == 0 {
				t.Fatalf("cut at %d: shot-%d is lost", cut, k)
			}
			shots, err := j.shots(entries[len(entries)-1])
			if err != nil || len(shots) != 2 || shots[1].Capture != fmt.Sprintf("shot-%d#1", k) {
				t.Fatalf("cut at %d: shot-%d gives %v, %v", cut, k, shots, err)
			}
		}
		if err := j.close(); err != nil {
			t.Fatal(err)
		}
	}
	if last != 3 {
		t.Errorf("the whole journal gives %d entries", last)
	}
}
