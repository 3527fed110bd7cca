package waveform

// Code names a kind of caveat. The list is closed: a new code needs a line
// here, in Codes, and in the README's table.
type Code string

// Codes of reading.
const (
	TimeRounded      Code = "time-rounded"
	TimeRepeated     Code = "time-repeated"
	IntervalConflict Code = "interval-conflict"
	Gap              Code = "gap"
	UnevenSteps      Code = "uneven-steps"
	Resampled        Code = "resampled"
	OverRange        Code = "over-range"
	FlatTop          Code = "flat-top"
	MissingSamples   Code = "missing-samples"
	RowTorn          Code = "row-torn"
	RecordLength     Code = "record-length"
	NoNames          Code = "no-names"
	NoUnits          Code = "no-units"
	ChannelEmpty     Code = "channel-empty"
	ChannelText      Code = "channel-text"
	PeakDetect       Code = "peak-detect"
	TrailingBytes    Code = "trailing-bytes"
)

// Codes of measuring.
const (
	RoleGuess         Code = "role-guess"
	Polarity          Code = "polarity"
	SingleEdge        Code = "single-edge"
	WindowInverted    Code = "window-inverted"
	Recrossed         Code = "recrossed"
	ClippedWindow     Code = "clipped-window"
	DipInWindow       Code = "dip-in-window"
	SettleShort       Code = "settle-short"
	NoBaseline        Code = "no-baseline"
	CommonMode        Code = "common-mode"
	NotDoublePulse    Code = "not-double-pulse"
	DelayUnknown      Code = "delay-unknown"
	DelaySuspect      Code = "delay-suspect"
	EnergyUncertain   Code = "energy-uncertain"
	EnergyImplausible Code = "energy-implausible"
	BusSag            Code = "bus-sag"
	LoadBend          Code = "load-bend"
	FewSamples        Code = "few-samples"
	FewBits           Code = "few-bits"
	Bandwidth         Code = "bandwidth"
	RingGrowing       Code = "ring-growing"
	// Ours, beyond the first list:
	NotInRecord        Code = "not-in-record"       // the edge, channel or stretch that the quantity needs is not there
	LevelNotReached    Code = "level-not-reached"   // the signal does not pass the level that defines the quantity
	CurrentTail        Code = "current-tail"        // a good part of the turn-off energy lies in a tail, past the end of the window
	LoopDisagrees      Code = "loop-disagrees"      // two ways to read the loop inductance give unlike values
	ScaleSuspect       Code = "scale-suspect"       // a channel is far from what the set-up plans or any half bridge has, as with a wrong probe factor
	ParasiticTurnOn    Code = "parasitic-turn-on"   // the idle device's gate passes its threshold
	PartialPulse       Code = "partial-pulse"       // v leaves its state and comes back without a stay: a bounce, or a pulse too short
	GateOverlap        Code = "gate-overlap"        // both gates of a half bridge are on at once
	NoLoad             Code = "no-load"             // the edge carries no load current to speak of
	CalibrationOverdue Code = "calibration-overdue" // a channel's calibration had run out on the day of the test
	Outlier            Code = "outlier"             // samples, alone or a few, that those around them cannot support
	SlowSettling       Code = "slow-settling"       // a channel goes on to settle behind an edge, as a probe whose compensation is off
	ImplausibleTime    Code = "implausible-time"    // edges slower or faster than anything that is switched, as with a wrong unit of time

	// Of campaigns:
	EdgesDiffer        Code = "edges-differ"        // the two edges of a shot were not taken at one voltage and current
	OffPlan            Code = "off-plan"            // bus voltage or load current is far from what was planned
	ConditionsConflict Code = "conditions-conflict" // the name and the shot list tell unlike conditions
	ConditionsUnknown  Code = "conditions-unknown"  // neither the name nor the shot list tells the conditions
)

// Codes is the closed list in the order of the manual.
var Codes = []Code{
	TimeRounded, TimeRepeated, IntervalConflict, Gap, UnevenSteps, Resampled,
	OverRange, FlatTop, MissingSamples, RowTorn, RecordLength, NoNames, NoUnits,
	ChannelEmpty, ChannelText, PeakDetect, TrailingBytes,
	RoleGuess, Polarity, SingleEdge, WindowInverted, Recrossed, ClippedWindow,
	DipInWindow, SettleShort, NoBaseline, CommonMode, NotDoublePulse,
	DelayUnknown, DelaySuspect, EnergyUncertain, EnergyImplausible, BusSag,
	LoadBend, FewSamples, FewBits, Bandwidth, RingGrowing,
	NotInRecord, LevelNotReached, CurrentTail, LoopDisagrees, ScaleSuspect, ParasiticTurnOn, PartialPulse, GateOverlap, NoLoad, CalibrationOverdue, Outlier, ImplausibleTime, SlowSettling,
	EdgesDiffer, OffPlan, ConditionsConflict, ConditionsUnknown,
}

// Warning qualifies a result: the number stands, with this caveat; or it is
// missing, for this reason. A capture or shot with nothing wrong has none.
type Warning struct {
	Code    Code
	Channel string   // name of the trace or role concerned, "" for the whole capture
	Over    Interval // where, zero if everywhere
	Text    string   // a sentence for people
}
