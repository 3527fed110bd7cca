package curve

import "math"

// LeftOut is the check by leaving out one point at a time: how well the others
// foretell it.
type LeftOut struct {
	N     int     // points that could be left out
	RMS   float64 // of (value - foretold)/value
	Worst float64 // largest of it by size, with its sign
	At    string  // the point's name
}

// leaveOut refits without each point in turn.
func (f *Fit) leaveOut(opt Options) {
	f.Left = LeftOut{RMS: math.NaN(), Worst: math.NaN()}
	points := make([]Point, len(f.Points))
	for k, p := range f.Points {
		points[k] = p.Point
	}
	sum := 0.0
	for k := range f.Points {
		rest := append(append([]Point{}, points[:k]...), points[k+1:]...)
		part, err := solve(f.Model, rest, opt)
		if err != nil || f.Points[k].Y == 0 {
			continue
		}
		foretold := f.Model.Eval(part.P, f.Points[k].At)
		f.Points[k].LeftOut = foretold
		off := (f.Points[k].Y - foretold) / f.Points[k].Y
		sum += off * off
		f.Left.N++
		if !(math.Abs(off) <= math.Abs(f.Left.Worst)) {
			f.Left.Worst, f.Left.At = off, f.Points[k].Name
		}
	}
	if f.Left.N > 0 {
		f.Left.RMS = math.Sqrt(sum / float64(f.Left.N))
	}
}
