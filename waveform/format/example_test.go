package format_test

import (
	"fmt"
	"log"
	"os"
	"path/filepath"

	"slewbook/waveform/format"
)

func Example() {
	dir, err := os.MkdirTemp("", "captures")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	for name, text := range map[string]string{
		"shot-1.csv": "time (ns);vds (V);id (A)\n-8;800,5;0,1\n-4;400,25;20\n0;1,5;40\n",
		"shot-2.csv": "time (ns);vds (V);id (A)\n0;800;0\n4;400,25;abc\n8;1,5;40\n",
		"notes.md":   "nothing to read here",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			log.Fatal(err)
		}
	}
	sources, skipped, err := format.Find(dir, format.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for _, s := range skipped {
		fmt.Println("skipped", s.Path+":", s.Reason)
	}
	for _, s := range sources {
		captures, err := s.Read()
		if perr, ok := err.(*format.ParseError); ok {
			fmt.Printf("%s line %d: %s\n", s.Name, perr.Line, perr.Found)
			continue
		}
		c := captures[0]
		fmt.Println(c.Name+":", c.Layout)
		for _, tr := range c.Traces {
			fmt.Printf("  %s [%s] every %g ns: %v\n", tr.Name, tr.Unit, tr.Dt*1e9, tr.Y)
		}
	}
	// Output:
	// skipped notes.md: a .md file, not a capture
	// shot-1: semicolon, decimal comma; units in names
	//   vds [V] every 4 ns: [800.5 400.25 1.5]
	//   id [A] every 4 ns: [0.1 20 40]
	// shot-2 line 3: "abc" in column 3 (id)
}
