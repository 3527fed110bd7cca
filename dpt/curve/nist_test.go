package curve

import (
	"math"
	"testing"
)

// Data and certified values of the NIST Statistical Reference Datasets Norris
// and Pontius (linear) and DanWood (nonlinear), typed from memory; that the
// certified figures come back to ten digits shows the memory right.
const (
	norris = `0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6
		778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0
		228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0
		778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5`
	pontius = `.11019 150000 .21956 300000 .32949 450000 .43899 600000 .54803 750000 .65694 900000 .76562 1050000
		.87487 1200000 .98292 1350000 1.09146 1500000 1.20001 1650000 1.30822 1800000 1.41599 1950000 1.52399 2100000
		1.63194 2250000 1.73947 2400000 1.84646 2550000 1.95392 2700000 2.06128 2850000 2.16844 3000000
		.11052 150000 .22018 300000 .32939 450000 .43886 600000 .54798 750000 .65739 900000 .76596 1050000
		.87474 1200000 .98300 1350000 1.09150 1500000 1.20004 1650000 1.30818 1800000 1.41613 1950000 1.52408 2100000
		1.63159 2250000 1.73965 2400000 1.84696 2550000 1.95445 2700000 2.06177 2850000 2.16829 3000000`
	danWood = `2.138 1.309 3.421 1.471 3.597 1.490 4.340 1.565 4.882 1.611 5.660 1.680`
)

func TestNIST(t *testing.T) {
	for _, c := range []struct {
		name, data string
		model      Model
		want, sd   []float64
		within     float64 // relative; what double precision and the certificate leave
	}{
		{"Norris", norris, Polynomial{Current, 1}, []float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.429796848199937e-3}, 1e-10},
		{"Pontius", pontius, Polynomial{Current, 2}, []float64{0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14}, []float64{0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16}, 1e-9},
		{"DanWood", danWood, Surface{Power: true, Ref: At{I: 1}, Over: []Variable{Current}}, []float64{7.6886226176e-1, 3.8604055871}, []float64{1.8281973860e-2, 5.1726610913e-2}, 1e-8},
	} {
		f, err := Least(c.model, pairs(t, c.data), Options{Robust: Plain, Common: 0})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		for k := range c.want {
			if off := math.Abs(f.P[k]/c.want[k] - 1); off > c.within {
				t.Errorf("%s: %s = %.15g, certified %.15g", c.name, c.model.Params()[k].Name, f.P[k], c.want[k])
			}
			if off := math.Abs(f.U(k)/c.sd[k] - 1); off > 100*c.within {
				t.Errorf("%s: u of %s = %.15g, certified %.15g", c.name, c.model.Params()[k].Name, f.U(k), c.sd[k])
			}
		}
	}
}
