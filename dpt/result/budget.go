package result

// Scope says what shares the error of an input of a measurement.
type Scope string

// Scopes of an input.
const (
	OfReading   Scope = "reading"   // this quantity alone: noise, sampling
	OfEdge      Scope = "edge"      // what is read at the same edge of the same shot: the levels
	OfShot      Scope = "shot"      // everything read from the same shot: the zero of the current
	OfRun       Scope = "run"       // all shots of one campaign, but not those of another one with the same set-up: a delay that was estimated and taken out
	OfSetup     Scope = "set-up"    // every shot of the same set-up: gains, delay, bandwidths
	OfReference Scope = "reference" // everything that was calibrated against the same one, whatever the set-up
)

// Shared tells whether other shots share the error, so that averaging them leaves it.
func (s Scope) Shared() bool { return s == OfRun || s == OfSetup || s == OfReference }

// Contribution is one line of an uncertainty budget: an input with its standard
// uncertainty, and what that does to the quantity. Inputs of one name and of a
// scope that two quantities share are one and the same input, so that their
// effects add with their signs.
type Contribution struct {
	Source string  // the input: "gain of vds"
	U      float64 // its standard uncertainty [Unit]
	Unit   string
	Effect float64 // change of the quantity by +U, signed [unit of the quantity]; the sensitivity is Effect/U
	Scope  Scope
	Basis  string // where U is from: "set-up", "capture" or "assumed"
}
