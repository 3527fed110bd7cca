package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
	"sort"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/stat/distuv"

	"slewbook/dpt"
	"slewbook/dpt/condition"
	"slewbook/dpt/model"
	"slewbook/dpt/result"
	"slewbook/waveform/unit"
)

// mainQuantities are those whose coverage is judged.
var mainQuantities = []string{
	"v_bus_off", "v_bus_on", "i_off", "i_on", "v_peak", "i_peak", "e_off", "e_on", "e_tot",
	"td_off", "td_on", "t_rise_v", "t_fall_i", "t_rise_i", "t_fall_v",
	"dvdt_off", "dvdt_on", "didt_off", "didt_on", "l_loop", "l_load", "delay_id",
}

// What the coverage of 2u is to lie between, and how unlikely the count must be of one that
// does before it is told, for each of the main quantities.
const (
	leastCoverage, mostCoverage = 0.92, 0.98
	byChance                    = 1e-3
)

// errCoverage ends a run in which an uncertainty does not cover as it says.
var errCoverage = errors.New("the coverage of at least one main quantity is off, see above")

// trial is a run of the virtual bench.
type trial struct {
	shots  int
	seed   uint64
	family string
}

func newValidateCmd() *cobra.Command {
	var t trial
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "validate",
		Short: "Check the uncertainties on a virtual bench that knows the truth",
		Long: `validate makes random shots of invented devices, records each with an instrument
whose errors are drawn from what is stated of it, measures them as any capture,
and counts how often the truth lies within two standard uncertainties of the
value, and how wide that is. It does so twice: with the errors that the budget
models, and with others besides: a ringing ground lead, a coil's droop, roll-offs
that are not Gaussian, and a zero that is off after an overload.

Exit status: 1 where the coverage of a main quantity, all kinds of device together
and without the effects besides, lies outside 92 to 98 % by more than chance makes
of so many shots once in a thousand runs; stderr says which.`,
		Example: "  slewbook validate --shots 200 --family sic",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if t.shots < 1 {
				return fmt.Errorf("--shots: got %d, expected 1 or more", t.shots)
			}
			if t.family != "" && !model.FamilyKnown(t.family) {
				return fmt.Errorf("--family: no family is named %q; there are %s", t.family, strings.Join(model.Families(), ", "))
			}
			c := t.run()
			write := func(w io.Writer) error { return c.writeText(w, t) }
			if asJSON {
				write = c.writeJSON
			}
			if err := write(cmd.OutOrStdout()); err != nil {
				return err
			}
			off := c.off()
			for _, text := range off {
				tell(cmd.ErrOrStderr(), "%s", text)
			}
			if len(off) > 0 {
				return errCoverage
			}
			return nil
		},
	}
	cmd.Flags().IntVar(&t.shots, "shots", 1000, "`number` of shots, each measured with and without the effects that the budget does not model")
	cmd.Flags().Uint64Var(&t.seed, "seed", 1, "`number` that the shots follow from")
	cmd.Flags().StringVar(&t.family, "family", "", "`kind` of device: "+strings.Join(model.Families(), ", ")+"; all in turn if not given")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write one JSON object a quantity and family on stdout and nothing else there")
	return cmd
}

// found is one measured value against its truth.
type found struct {
	key            string
	value, u, true float64
}

// outcome is what measuring one shot gave, without and with the effects beyond
// the budget.
type outcome struct {
	family string
	found  [2][]found
}

// run measures the shots on all cores. The same trial gives the same result.
func (t trial) run() coverage {
	outcomes := make([]outcome, t.shots)
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for k := range outcomes {
		g.Go(func() error {
			outcomes[k] = t.shot(uint64(k))
			return nil
		})
	}
	g.Wait() // none fails
	return cover(outcomes)
}

// shot makes and measures one shot twice.
func (t trial) shot(k uint64) outcome {
	b := model.Random(t.family, t.seed, k)
	w := b.Waveforms()
	known := b.Known(w)
	out := outcome{family: b.Family}
	for n, in := range []model.Instrument{b.Instrument, b.Beyond(t.seed, k)} {
		s, _ := dpt.Measure(model.Capture(w, in, k), benchOptions(b)) // a refused shot has no quantities
		for _, c := range result.Columns {
			truth, ok := known[c.Key]
			if !ok || math.IsNaN(truth) {
				continue
			}
			f := found{c.Key, math.NaN(), math.NaN(), truth}
			if q := s.Quantity(c.Key); q != nil {
				f.value, f.u = q.Value, q.U
			}
			out.found[n] = append(out.found[n], f)
		}
	}
	return out
}

// benchOptions are what the set-up file of the shot would say.
func benchOptions(b model.Bench) dpt.Options {
	opt := dpt.Defaults()
	opt.Align = dpt.AlignApply
	if b.Shot.Device.Gain > 0 {
		opt.Device = dpt.IGBT
	}
	opt.Channels = map[result.Role]dpt.Channel{}
	for role, c := range map[result.Role]struct {
		ch     model.Channel
		stated model.Stated
	}{result.Vds: {b.Instrument.V, b.V}, result.Id: {b.Instrument.I, b.I}, result.Vgs: {b.Instrument.Vgs, b.Vgs}} {
		read := condition.AsRead()
		read.RangeMin, read.RangeMax = c.ch.Ends()
		opt.Channels[role] = dpt.Channel{Channel: read, Bandwidth: c.ch.Bandwidth, GainU: c.stated.GainU, OffsetU: c.stated.OffsetU, DelayU: c.stated.DelayU}
	}
	return opt
}

// covered counts one quantity of one family.
type covered struct {
	family, key string
	beyond      bool
	n           int       // values with an uncertainty
	none        int       // truths without
	hit         int       // values within 2u of the truth
	widths      []float64 // 2u, relative to the truth unless it is a time shift or a ratio
}

// coverage holds a covered for each quantity, family ("" for all) and bench.
type coverage []*covered

func cover(outcomes []outcome) coverage {
	var all coverage
	at := map[string]*covered{}
	for _, c := range result.Columns {
		for _, o := range outcomes {
			for n, fs := range o.found {
				k := slices.IndexFunc(fs, func(f found) bool { return f.key == c.Key })
				if k < 0 {
					continue
				}
				for _, family := range []string{"", o.family} {
					name := fmt.Sprint(c.Key, n, family)
					if at[name] == nil {
						at[name] = &covered{family: family, key: c.Key, beyond: n == 1}
						all = append(all, at[name])
					}
					at[name].add(fs[k])
				}
			}
		}
	}
	for _, c := range all {
		slices.Sort(c.widths)
	}
	return all
}

func (c *covered) add(f found) {
	if math.IsNaN(f.value) || math.IsNaN(f.u) {
		c.none++
		return
	}
	c.n++
	if math.Abs(f.value-f.true) <= 2*f.u {
		c.hit++
	}
	width := 2 * f.u
	if relativeWidth(f.key) {
		width /= math.Abs(f.true)
	}
	c.widths = append(c.widths, width)
}

// relativeWidth tells whether the width of a quantity is given relative to it:
// not where it may be zero.
func relativeWidth(key string) bool {
	c, _ := result.FindColumn(key)
	return c.Unit != "1" && key != "delay_id" && key != "vgs_low" && key != "vgs_min"
}

func (c *covered) part() float64 { return float64(c.hit) / float64(c.n) }

// width is the median width.
func (c *covered) width() float64 {
	if len(c.widths) == 0 {
		return math.NaN()
	}
	return c.widths[len(c.widths)/2]
}

// off tells which main quantities cover the truth too seldom or too often, by more than
// chance explains.
func (all coverage) off() []string {
	var off []string
	for _, key := range mainQuantities {
		c := all.find(key, "", false)
		if c == nil || c.n == 0 {
			continue
		}
		if c.hit < leastHits(c.n, leastCoverage, byChance) || c.n-c.hit < leastHits(c.n, 1-mostCoverage, byChance) {
			off = append(off, fmt.Sprintf("%s: %d of %d truths are within 2u, %.1f %%; expected %.0f to %.0f %%", key, c.hit, c.n, 100*c.part(), 100*leastCoverage, 100*mostCoverage))
		}
	}
	return off
}

// leastHits returns the smallest k for which k or fewer hits of n, each with the chance p,
// are not less likely than rare (binomial distribution).
func leastHits(n int, p, rare float64) int {
	hits := distuv.Binomial{N: float64(n), P: p}
	return sort.Search(n, func(k int) bool { return hits.CDF(float64(k)) >= rare })
}

// find returns the counts of a quantity, nil if there are none.
func (all coverage) find(key, family string, beyond bool) *covered {
	for _, c := range all {
		if c.key == key && c.family == family && c.beyond == beyond {
			return c
		}
	}
	return nil
}

func (all coverage) writeJSON(w io.Writer) error {
	out := json.NewEncoder(w)
	for _, c := range all {
		unitOf := "1"
		if col, _ := result.FindColumn(c.key); !relativeWidth(c.key) {
			unitOf = col.Unit
		}
		err := out.Encode(struct {
			Quantity string        `json:"quantity"`
			Family   string        `json:"family,omitempty"`
			Beyond   bool          `json:"beyond"`
			N        int           `json:"n"`
			None     int           `json:"none"`
			Covered  int           `json:"covered"`
			Width    result.Number `json:"width"`
			Unit     string        `json:"width_unit"`
		}{c.key, c.family, c.beyond, c.n, c.none, c.hit, result.Number(c.width()), unitOf})
		if err != nil {
			return err
		}
	}
	return nil
}

func (all coverage) writeText(w io.Writer, t trial) error {
	var b strings.Builder
	families := model.Families()
	if t.family != "" {
		families = []string{t.family}
	}
	fmt.Fprintf(&b, "%d invented shots, seed %d. Truth within 2u of the value, in %%; median 2u\n", t.shots, t.seed)
	for _, beyond := range []bool{false, true} {
		if beyond {
			fmt.Fprintf(&b, "\nwith effects that the budget does not model:\n")
		}
		fmt.Fprintf(&b, "%-13s %6s %6s %9s", "quantity", "values", "all", "2u")
		for _, f := range families {
			fmt.Fprintf(&b, " %5s", f)
		}
		b.WriteByte('\n')
		for _, c := range all {
			if c.family != "" || c.beyond != beyond {
				continue
			}
			fmt.Fprintf(&b, "%-13s %6d %6.1f %9s", c.key, c.n, 100*c.part(), c.widthText())
			for _, f := range families {
				if one := all.find(c.key, f, beyond); one != nil && one.n > 0 {
					fmt.Fprintf(&b, " %5.1f", 100*one.part())
				} else {
					fmt.Fprintf(&b, " %5s", "-")
				}
			}
			b.WriteByte('\n')
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (c *covered) widthText() string {
	x := c.width()
	col, _ := result.FindColumn(c.key)
	if math.IsNaN(x) {
		return "-"
	}
	if relativeWidth(c.key) || col.Unit == "1" {
		return fmt.Sprintf("%.2g %%", 100*x)
	}
	text := unit.Format(x, col.Unit, 2)
	if !utf8Locale() {
		text = unit.ASCII(text)
	}
	return text
}
