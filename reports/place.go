package reports

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// placer finds room for small labels in a panel, so that they hide neither the
// curves nor each other.
type placer struct {
	area  vg.Rectangle
	lines [][]vg.Point
	taken []vg.Rectangle
	marks []vg.Point // a label beside another's mark would be taken for that one's
}

// place returns the best box of that size near the anchor and reserves it: of
// 16 directions at growing distance the one that covers the least.
func (p *placer) place(anchor, size vg.Point) vg.Rectangle {
	var best vg.Rectangle
	least := math.Inf(1)
	for _, distance := range []vg.Length{5, 10, 16, 24, 34, 46} {
		for k := range 16 {
			box := boxBeside(anchor, size, distance, float64(k)*math.Pi/8)
			if cost := p.cost(box) + p.strangers(anchor, box) + float64(distance); cost < least {
				best, least = box, cost
			}
		}
	}
	p.taken = append(p.taken, best)
	return best
}

// strangers weighs the marks other than its own that a box stands close to.
func (p *placer) strangers(own vg.Point, box vg.Rectangle) float64 {
	cost := 0.0
	for _, m := range p.marks {
		dx, dy := max(box.Min.X-m.X, m.X-box.Max.X, 0), max(box.Min.Y-m.Y, m.Y-box.Max.Y, 0)
		if m != own && dx*dx+dy*dy < 9*9 {
			cost += 25
		}
	}
	return cost
}

// boxBeside returns the box whose nearest point lies at about that distance
// from the anchor in the direction of the angle.
func boxBeside(anchor, size vg.Point, distance vg.Length, angle float64) vg.Rectangle {
	sin, cos := math.Sincos(angle)
	center := vg.Point{
		X: anchor.X + vg.Length(cos)*(distance+size.X/2),
		Y: anchor.Y + vg.Length(sin)*(distance+size.Y/2),
	}
	half := vg.Point{X: size.X / 2, Y: size.Y / 2}
	return vg.Rectangle{Min: center.Sub(half), Max: center.Add(half)}
}

// cost weighs what a box covers: the panel's edge is worst, then another
// label, then each piece of a curve.
func (p *placer) cost(box vg.Rectangle) float64 {
	cost := 0.0
	if box.Min.X < p.area.Min.X+1 || box.Max.X > p.area.Max.X-1 || box.Min.Y < p.area.Min.Y+1 || box.Max.Y > p.area.Max.Y-1 {
		cost += 1e6
	}
	for _, other := range p.taken {
		if box.Min.X < other.Max.X && other.Min.X < box.Max.X && box.Min.Y < other.Max.Y && other.Min.Y < box.Max.Y {
			cost += 1e4
		}
	}
	for _, line := range p.lines {
		for k := 1; k < len(line); k++ {
			if crosses(line[k-1], line[k], box) {
				cost += 30
			}
		}
	}
	return cost
}

// crosses tells whether the segment from a to b touches the box.
func crosses(a, b vg.Point, box vg.Rectangle) bool {
	if max(a.X, b.X) < box.Min.X || min(a.X, b.X) > box.Max.X || max(a.Y, b.Y) < box.Min.Y || min(a.Y, b.Y) > box.Max.Y {
		return false
	}
	side := func(x, y vg.Length) bool { return (b.X-a.X)*(y-a.Y) > (b.Y-a.Y)*(x-a.X) }
	first := side(box.Min.X, box.Min.Y)
	return side(box.Min.X, box.Max.Y) != first || side(box.Max.X, box.Min.Y) != first || side(box.Max.X, box.Max.Y) != first
}

// along returns the best box just above or below the horizontal line at y and
// reserves it.
func (p *placer) along(y vg.Length, size vg.Point) vg.Rectangle {
	var best vg.Rectangle
	least := math.Inf(1)
	for k := range 12 {
		x := p.area.Min.X + 3 + vg.Length(k)/11*(p.area.Max.X-p.area.Min.X-size.X-6)
		for _, low := range []vg.Length{y + 1, y - 1 - size.Y} {
			box := vg.Rectangle{Min: vg.Point{X: x, Y: low}, Max: vg.Point{X: x + size.X, Y: low + size.Y}}
			if cost := p.cost(box); cost < least {
				best, least = box, cost
			}
		}
	}
	p.taken = append(p.taken, best)
	return best
}
