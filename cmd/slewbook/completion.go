package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"slewbook/dpt"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/reports"
	"slewbook/waveform"
)

// addCompletions gives the shell the values of flags and arguments, by their names:
// a flag means the same in all commands that have it.
func addCompletions(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			complete := flagCompletion(f.Name)
			if complete == nil {
				return
			}
			if err := cmd.RegisterFlagCompletionFunc(f.Name, complete); err != nil {
				panic("completion of --" + f.Name + ": " + err.Error())
			}
		})
		switch cmd.Name() {
		case "definitions":
			cmd.ValidArgsFunction = cobra.FixedCompletions(quantityKeys(), cobra.ShellCompDirectiveNoFileComp)
		case "explain": // [CAPTURE] KEY
			cmd.ValidArgsFunction = cobra.FixedCompletions(quantityKeys(), cobra.ShellCompDirectiveDefault)
		}
	}
}

// flagCompletion returns what completes a flag of that name, nil where nothing but
// the shell's file names does.
func flagCompletion(name string) cobra.CompletionFunc {
	if ext, ok := map[string]string{"setup": "toml", "limits": "toml", "converter": "toml", "shots": "csv"}[name]; ok {
		return cobra.FixedCompletions([]string{ext}, cobra.ShellCompDirectiveFilterFileExt)
	}
	if values := flagValues(name); values != nil {
		return cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp)
	}
	return nil
}

// flagValues lists the values that a flag takes, nil where there is no list.
func flagValues(name string) []string {
	switch name {
	case "quantity":
		return quantityKeys()
	case "definition":
		return namesOf(result.Definitions(), func(d result.Definition) string { return d.Key + "=" + d.Name })
	case "definitions":
		return namesOf(result.Sets, func(s result.Set) string { return s.Name + "\t" + s.Text })
	case "energy-window":
		return namesOf(result.Windows, func(w result.Window) string { return w.Name })
	case "style":
		return namesOf(reports.Styles(), func(s reports.Style) string { return s.Name })
	case "figure-format":
		return reports.Formats()
	case "overlay":
		return reports.OverlayNames()
	case "edge":
		return []string{"on", "off"}
	case "locus":
		return []string{"linear", "log"}
	case "align":
		return []string{string(dpt.AlignOff), string(dpt.AlignSuggest), string(dpt.AlignApply)}
	case "simulated":
		return []string{string(dpt.Probed), string(dpt.Bare)}
	case "level":
		return []string{string(waveform.Shorth), string(waveform.HistogramMode)}
	case "calibration":
		return []string{"same-edge", "resistor"}
	case "family":
		return model.Families()
	case "robust":
		return []string{"huber", "bisquare", "plain"}
	case "surface":
		return []string{"polynomial", "power"}
	case "to":
		return []string{"csv", "npz", "parquet"}
	}
	return nil
}

// quantityKeys lists the keys of the quantities, each with what it is.
func quantityKeys() []string {
	return namesOf(result.Columns, func(c result.Column) string { return c.Key + "\t" + strings.ReplaceAll(c.Help, "\t", " ") })
}

func namesOf[T any](all []T, name func(T) string) []string {
	var out []string
	for _, x := range all {
		out = append(out, name(x))
	}
	return out
}
