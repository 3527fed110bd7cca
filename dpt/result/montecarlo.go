package result

// MonteCarlo is what a propagation of distributions says of a quantity, beside what
// the law of propagation does (JCGM 101:2008). Intervals hold 95.45 %, as two standard
// deviations of a normal distribution do.
type MonteCarlo struct {
	Seed                uint64
	Trials              int     // in all
	Lost                int     // trials in which there was no value to read
	Settled             bool    // whether all figures settled before the trials ended
	Mean, U             float64 // mean and standard deviation of the values [unit of the quantity]
	Low, High           float64 // probabilistically symmetric interval
	ShortLow, ShortHigh float64 // shortest interval
	Tolerance           float64 // numerical tolerance of U to one significant digit
	Agrees              bool    // value ± 2u ends within Tolerance of Low and High
}
