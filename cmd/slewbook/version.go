package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// build is what is known of how this program was built.
type build struct {
	Version  string `json:"version"`
	Revision string `json:"revision"` // "" if it was built without it
	Time     string `json:"time"`
	Modified bool   `json:"modified"`
	Go       string `json:"go"`
	Platform string `json:"platform"`
}

func readBuild() build {
	b := build{Version: "(devel)", Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	if info.Main.Version != "" {
		b.Version = info.Main.Version
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Revision = s.Value
		case "vcs.time":
			b.Time = s.Value
		case "vcs.modified":
			b.Modified = s.Value == "true"
		}
	}
	return b
}

// String is the version as results carry it.
func (b build) String() string {
	switch {
	case b.Revision == "":
		return b.Version
	case b.Modified:
		return b.Version + " " + b.Revision + " with changes"
	}
	return b.Version + " " + b.Revision
}

// program identifies the program by which results were made: its revision, or,
// where that does not tell, the hash of the program itself.
func (b build) program() (string, error) {
	if b.Revision != "" && !b.Modified {
		return b.String(), nil
	}
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), err
}

func newVersionCmd() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "version",
		Short:   "Tell the version and the revision that this program was built from",
		Example: "  slewbook version\n  slewbook version --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			b := readBuild()
			if asJSON {
				return json.NewEncoder(cmd.OutOrStdout()).Encode(b)
			}
			revision := "unknown: built without version control data (go build -buildvcs=true puts it in)"
			if b.Revision != "" {
				revision = b.Revision + " of " + b.Time
				if b.Modified {
					revision += ", with uncommitted changes"
				}
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "slewbook %s\nrevision %s\n%s %s\n", b.Version, revision, b.Go, b.Platform)
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object")
	return cmd
}
