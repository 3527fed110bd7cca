package result

// Ratings are what the set-up gives of the device's limits, to draw beside what was
// measured; they judge nothing. NaN where they are not given.
type Ratings struct {
	VMax  float64  // drain-source (collector-emitter) voltage [V]
	IMax  float64  // drain (collector) current [A]
	RBSOA []Corner // of the reverse-bias safe operating area, by rising voltage (IEC 60747-9); nil if not given
}

// Corner is one corner of a limit of current over voltage.
type Corner struct {
	V float64 // [V]
	I float64 // [A]
}
