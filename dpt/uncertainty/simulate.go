package uncertainty

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"slewbook/dpt/result"
)

// Coverage is the probability that intervals are computed for: that of two
// standard deviations of a normal distribution, so that they compare with U = 2u.
const Coverage = 0.9545

// A Trial draws every input from its distribution once and leaves the value of
// each quantity in out; NaN where there is none.
type Trial func(rng *rand.Rand, out []float64)

// Simulation says how the propagation of distributions (JCGM 101:2008, clause 7,
// from memory) is done.
type Simulation struct {
	Seed      uint64  // of the random numbers: the same seed gives the same result, whatever the number of processors
	Tolerance float64 // part of the numerical tolerance δ that the results are to settle to: 1; a fifth to validate by (clause 8.2)
	Most      int     // trials after which it ends unsettled; a multiple of 10⁴
}

const (
	batch = 10_000 // trials of a batch: max(10⁴, 100/(1 - p)), clause 7.9.4 b
	block = 250    // trials that one stream of random numbers serves
)

// Numerical is the numerical tolerance δ of a standard uncertainty of one
// significant digit (clause 7.9.2): u = c·10^l with c from 1 to 9 gives ½·10^l.
func Numerical(u float64) float64 {
	l := math.Floor(math.Log10(u))
	if math.Round(u/math.Pow(10, l)) == 10 {
		l++
	}
	return math.Pow(10, l) / 2
}

// Run does trials in batches until mean, standard uncertainty and both ends of the
// coverage interval of each of n quantities have settled (clause 7.9.4): until twice
// the standard deviation of their means over the batches is within the tolerance.
// newTrial is called once for each processor; its trials run one after the other.
func (s Simulation) Run(n int, newTrial func() Trial) []result.MonteCarlo {
	values := make([][]float64, n)
	batches := make([][]summary, n)
	out := make([]result.MonteCarlo, n)
	for done := 0; ; {
		for k, v := range s.batch(done/batch, n, newTrial) {
			batches[k] = append(batches[k], summarise(v))
			values[k] = append(values[k], v...)
		}
		done += batch
		settled := true
		for k := range out {
			all := summarise(values[k])
			out[k] = all.result()
			out[k].Seed, out[k].Trials, out[k].Lost = s.Seed, done, done-len(values[k])
			out[k].Settled = settle(batches[k], s.Tolerance*out[k].Tolerance)
			settled = settled && out[k].Settled
		}
		if settled || done >= s.Most {
			for k := range out {
				out[k].ShortLow, out[k].ShortHigh = shortest(values[k])
			}
			return out
		}
	}
}

// batch does the trials of one batch on all processors and returns the values of
// each quantity.
func (s Simulation) batch(number, n int, newTrial func() Trial) [][]float64 {
	rows := make([][]float64, batch)
	var next sync.Mutex
	var workers sync.WaitGroup
	at := 0
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			trial := newTrial()
			for {
				next.Lock()
				from := at
				at += block
				next.Unlock()
				if from >= batch {
					return
				}
				stream := uint64(number*batch+from) / block
				rng := rand.New(rand.NewPCG(s.Seed, stream*0x9e3779b97f4a7c15)) // spread by the golden ratio
				for k := from; k < from+block; k++ {
					rows[k] = make([]float64, n)
					trial(rng, rows[k])
				}
			}
		})
	}
	workers.Wait()
	values := make([][]float64, n)
	for _, row := range rows {
		for k, y := range row {
			if y-y == 0 {
				values[k] = append(values[k], y)
			}
		}
	}
	return values
}

// summary is what the trials say of one quantity.
type summary [4]float64 // mean, standard deviation, ends of the symmetric interval

func (s summary) result() result.MonteCarlo {
	return result.MonteCarlo{Mean: s[0], U: s[1], Low: s[2], High: s[3], Tolerance: Numerical(s[1])}
}

// summarise sorts the values and returns their summary; NaN of fewer than two.
func summarise(values []float64) summary {
	n := float64(len(values))
	if n < 2 {
		nan := math.NaN()
		return summary{nan, nan, nan, nan}
	}
	slices.Sort(values)
	var s summary
	for _, y := range values {
		s[0] += y / n
	}
	for _, y := range values {
		s[1] += (y - s[0]) * (y - s[0])
	}
	s[1] = math.Sqrt(s[1] / (n - 1))
	tail := (1 - Coverage) / 2
	s[2], s[3] = quantile(values, tail), quantile(values, 1-tail)
	return s
}

// quantile interpolates between sorted values.
func quantile(values []float64, p float64) float64 {
	x := p * float64(len(values)-1)
	k := min(int(x), len(values)-2)
	return values[k] + (x-float64(k))*(values[k+1]-values[k])
}

// shortest returns the ends of the shortest interval that holds the coverage
// probability (clause 7.7.3) of sorted values; NaN of none.
func shortest(values []float64) (low, high float64) {
	q := int(math.Round(Coverage * float64(len(values))))
	low, high = math.NaN(), math.NaN()
	for k := 0; k+q < len(values); k++ {
		if w := values[k+q] - values[k]; k == 0 || w < high-low {
			low, high = values[k], values[k+q]
		}
	}
	return low, high
}

// settle tells whether twice the standard deviation of the mean of each figure over
// the batches is within tol.
func settle(batches []summary, tol float64) bool {
	h := float64(len(batches))
	if h < 2 {
		return false
	}
	for f := range len(summary{}) {
		mean, sum := 0.0, 0.0
		for _, b := range batches {
			mean += b[f] / h
		}
		for _, b := range batches {
			sum += (b[f] - mean) * (b[f] - mean)
		}
		if !(2*math.Sqrt(sum/(h*(h-1))) <= tol) {
			return false
		}
	}
	return true
}

// Agrees tells whether the law of propagation is validated by the trials (clause
// 8.1): whether both ends of value ± 2u are within the numerical tolerance of u from
// those of the trials' symmetric interval. Trials that have not settled, or of which
// more than one in a thousand has no value, validate nothing.
func Agrees(value, u float64, m result.MonteCarlo) bool {
	return m.Settled && m.Lost*1000 <= m.Trials &&
		math.Abs(value-2*u-m.Low) <= m.Tolerance && math.Abs(value+2*u-m.High) <= m.Tolerance
}
