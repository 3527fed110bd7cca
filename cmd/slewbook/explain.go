package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"slewbook/dpt"
	"slewbook/dpt/plan"
	"slewbook/dpt/result"
	"slewbook/reports"
)

func newExplainCmd() *cobra.Command {
	var setup string
	var chosen definitionFlags
	cmd := &cobra.Command{
		Use:   "explain [CAPTURE] KEY",
		Short: "Tell what a quantity is, and why a capture has that number",
		Long: `explain KEY tells one quantity: what it is, its levels, formula and source, and
what its uncertainty is made of. explain CAPTURE KEY tells why that capture has
that number: bases and levels with raw and corrected values, window, corrections,
running integral, sensitivity to delay, the same under other definitions, and the
uncertainty line by line. KEY may name a definition: e_off.v5-i5. plan.KEY is a
figure of the plan.`,
		Example: "  slewbook explain e_off\n  slewbook explain shot-012.csv e_off --setup bench.toml\n  slewbook explain plan.v_sag",
		Args:    cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			if key, ok := strings.CutPrefix(args[0], "plan."); ok && len(args) == 1 {
				return explainPlan(out, key)
			}
			if len(args) == 1 {
				return reports.WriteDefinition(out, args[0], textOptions(out))
			}
			opt, err := loadOptions(setup)
			if err != nil {
				return err
			}
			key := args[1]
			if _, ok := result.FindColumn(key); !ok {
				return fmt.Errorf("no quantity has the key %q; slewbook measure --json tells those of a capture", key)
			}
			if column, name, dotted := strings.Cut(key, "."); dotted {
				chosen.single = append(chosen.single, column+"="+name)
			}
			if err := chosen.apply(&opt); err != nil {
				return err
			}
			opt.AllDefinitions = true
			if err := opt.Validate(); err != nil {
				return err
			}
			sources, err := findSources(args[:1], setup, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			failed := false
			work := func(o opened) explained { return explainSource(o, opt, key, textOptions(out)) }
			done := func(e explained) error {
				failed = failed || e.failed
				if _, err := out.Write(e.text); err != nil {
					return err
				}
				return e.err
			}
			if err := eachSource(sources, work, done); err != nil {
				return err
			}
			if failed {
				return errShots
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&setup, "setup", "", "set-up `file` of the bench (TOML; slewbook setup writes a template)")
	chosen.add(cmd)
	return cmd
}

// explainPlan tells a figure of the plan.
func explainPlan(w io.Writer, key string) error {
	names := []string{}
	for _, f := range plan.Figures {
		if f.Key == key {
			return reports.WritePlanFigure(w, f.PlanFigure, textOptions(w))
		}
		names = append(names, f.Key)
	}
	return fmt.Errorf("no figure of the plan is named %q; expected one of %s", key, strings.Join(names, ", "))
}

// explained is what there is to say about the captures of one source.
type explained struct {
	text   []byte
	failed bool
	err    error
}

func explainSource(o opened, opt dpt.Options, key string, text reports.TextOptions) explained {
	if o.err != nil {
		return explained{text: fmt.Appendf(nil, "%s: %v\n", o.source.Name, o.err), failed: true}
	}
	var e explained
	var b bytes.Buffer
	for k, c := range o.captures {
		if k > 0 {
			fmt.Fprintln(&b)
		}
		shot, err := dpt.Measure(c, opt)
		if err != nil {
			fmt.Fprintf(&b, "%s: %v\n", c.Name, err)
			e.failed = true
			continue
		}
		if e.err = reports.WriteWhy(&b, &shot, key, text); e.err != nil {
			break
		}
	}
	e.text = b.Bytes()
	return e
}
