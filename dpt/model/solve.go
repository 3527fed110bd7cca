package model

import "math"

// node is one step of the solution: time, state and slope.
type node struct {
	t     float64
	x, dx state
}

// relative is the error allowed in one step, relative to the state and scale.
const relative = 1e-5

// solve integrates the circuit by the pair of Dormand and Prince of orders 5
// and 4 (J. Comp. Appl. Math. 6, 1980, from memory) with step control. It
// stops at every command, so that none is stepped over.
func (c *circuit) solve(from, to, relative float64) []node {
	var x state
	x[xBus], x[xV], x[xG] = c.Vbus, c.Vbus, c.VgsOff
	nodes := []node{{from, x, c.slope(from, &x)}}
	stops := []float64{}
	for _, k := range c.commands {
		stops = append(stops, k.T)
	}
	for _, stop := range append(stops, to) {
		nodes = c.advance(nodes, stop, relative)
	}
	return nodes
}

// advance appends nodes up to exactly `to`.
func (c *circuit) advance(nodes []node, to, relative float64) []node {
	h := 1e-12
	for n := nodes[len(nodes)-1]; n.t < to; {
		last := n.t+h >= to
		if last {
			h = to - n.t
		}
		next, err := c.step(n, h)
		err /= relative
		if err <= 1 {
			if last {
				next.t = to
			}
			nodes, n = append(nodes, next), next
		}
		// Not above 2 ns: nodes are also the points of the interpolation.
		h = min(h*min(max(0.9*math.Pow(err, -0.2), 0.2), 4), 2e-9)
	}
	return nodes
}

// step tries one step of h and returns it with its error, relative to the
// state and scale.
func (c *circuit) step(n node, h float64) (node, float64) {
	var k [7]state
	k[0] = n.dx
	at := [...]float64{0, 1. / 5, 3. / 10, 4. / 5, 8. / 9, 1, 1}
	a := [...][6]float64{
		{},
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	e := [...]float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40}
	var x state
	for s := 1; s < 7; s++ {
		x = n.x
		for j := range s {
			for m := range x {
				x[m] += h * a[s][j] * k[j][m]
			}
		}
		k[s] = c.slope(n.t+at[s]*h, &x)
	}
	worst := 0.0
	for m := range x {
		d := 0.0
		for s := range k {
			d += h * e[s] * k[s][m]
		}
		worst = max(worst, math.Abs(d)/(scale[m]+max(math.Abs(x[m]), math.Abs(n.x[m]))))
	}
	return node{n.t + h, x, k[6]}, max(worst, 1e-15)
}

// solution is the state as a function of time: the cubic through values and slopes
// of the two nodes around t, continuous with its first derivative.
type solution struct {
	nodes []node
	from  float64
	width float64 // of a bucket [s]
	first []int   // by bucket: the first node behind its start
}

func newSolution(nodes []node) *solution {
	last := nodes[len(nodes)-1].t
	s := &solution{nodes: nodes, from: nodes[0].t, first: make([]int, len(nodes)+1)}
	s.width = (last - s.from) / float64(len(nodes))
	k := 0
	for b := range s.first {
		for k < len(nodes)-1 && nodes[k].t <= s.from+float64(b)*s.width {
			k++
		}
		s.first[b] = k
	}
	return s
}

// at returns the numbered parts of the state at t; the others are zero.
func (s *solution) at(t float64, parts ...int) (x state) {
	bucket := min(max(int((t-s.from)/s.width), 0), len(s.first)-1)
	k := max(s.first[bucket], 1)
	for k < len(s.nodes)-1 && s.nodes[k].t <= t {
		k++
	}
	for k > 1 && s.nodes[k-1].t > t { // rounding of the bucket
		k--
	}
	a, b := &s.nodes[k-1], &s.nodes[k]
	h := b.t - a.t
	u := min(max((t-a.t)/h, 0), 1)
	w := 1 - u
	for _, m := range parts {
		x[m] = w*w*((1+2*u)*a.x[m]+u*h*a.dx[m]) + u*u*((1+2*w)*b.x[m]-w*h*b.dx[m])
	}
	return x
}
