package main

import (
	"encoding/json"
	"fmt"
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

func newVersionCmd() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Tell the version and the revision that this program was built from",
		Args:  cobra.NoArgs,
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
