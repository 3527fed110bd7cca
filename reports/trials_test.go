package reports

import (
	"strings"
	"testing"

	"slewbook/dpt/result"
)

// What keeps trials from validating a budget is said in words: each way on its own, of a
// value of 10 with u = 1.
func TestNotValidated(t *testing.T) {
	trials := result.MonteCarlo{Trials: 50_000, Settled: true, Mean: 10, U: 1, Low: 8, High: 12, Tolerance: 0.05}
	for _, x := range []struct {
		change func(*result.MonteCarlo)
		want   string
	}{
		{func(mc *result.MonteCarlo) { mc.Settled = false }, "the trials have not settled after 50000"},
		{func(mc *result.MonteCarlo) { mc.Lost = 500 }, "in 1 % of the trials there was nothing to read"},
		{func(mc *result.MonteCarlo) { mc.Mean, mc.Low, mc.High = 9, 7, 11 }, "their mean is below the value by 1.0 V: noise that is added"},
		{func(mc *result.MonteCarlo) { mc.U, mc.Low, mc.High = 1.5, 7, 13 }, "their standard deviation is 1.50 times u: over two u and more"},
		{func(mc *result.MonteCarlo) { mc.Low, mc.High = 8.5, 12.5 }, "they spread unevenly, 1.5 V below their mean and 2.5 V above"},
		{func(mc *result.MonteCarlo) { mc.Low, mc.High = 8.2, 11.8 }, "what differs is small and adds up: mean 0.0 V off the value, standard deviation 1.00 times u, interval 1.80 V below"},
	} {
		mc := trials
		x.change(&mc)
		m := &result.Measurement{Value: 10, U: 1, Unit: "V", Budget: []result.Contribution{{Source: "noise and bits"}, {Source: "first or largest of noisy samples"}}}
		why := notValidated(m, &mc)
		if len(why) != 1 || !strings.HasPrefix(why[0], x.want) {
			t.Errorf("%+v: %q, want %q", mc, why, x.want)
		}
	}
}
