package pipe

import (
	"likelyground/raster"
)

// unit is a group of fused nodes that is evaluated on one tile at a time. Its
// last nodes are either one kept node or, for the sink's unit, the outputs.
type unit struct {
	root  *Node   // nil for the sink's unit
	order []*Node // the fused nodes, inputs before readers, root last
	reads []edge  // what it reads of kept nodes
}

// edge says that node reader, fused into some unit, reads kept unit from.
type edge struct {
	reader *Node
	input  int // which of the reader's inputs; -1: an output of the graph
	from   *unit
	reach  int
}

// shape is the graph cut into units.
type shape struct {
	outputs []*Node
	sink    *unit
	kept    map[*Node]*unit
	units   []*unit // kept units, readers before the units they read
}

// newShape cuts a graph into units: a node is kept where somebody reads it
// beyond its own tile, or where two units read it.
func newShape(outputs []*Node) *shape {
	order := sorted(outputs)
	keep := map[*Node]bool{}
	for _, n := range order {
		if n.Reach > 0 {
			for _, in := range n.Inputs {
				keep[in] = true
			}
		}
	}
	spreadKeep(order, outputs, keep)
	s := &shape{outputs: outputs, kept: map[*Node]*unit{}}
	for _, n := range order {
		if keep[n] {
			s.kept[n] = &unit{root: n}
		}
	}
	s.sink = s.fill(&unit{}, outputs)
	for i := len(order) - 1; i >= 0; i-- {
		if u := s.kept[order[i]]; u != nil {
			s.units = append(s.units, s.fill(u, []*Node{order[i]}))
		}
	}
	return s
}

// sorted returns every node below the outputs, inputs before readers.
func sorted(outputs []*Node) []*Node {
	var order []*Node
	seen := map[*Node]bool{}
	var visit func(n *Node)
	visit = func(n *Node) {
		if seen[n] {
			return
		}
		seen[n] = true
		for _, in := range n.Inputs {
			visit(in)
		}
		order = append(order, n)
	}
	for _, n := range outputs {
		visit(n)
	}
	return order
}

// spreadKeep marks as kept every node that two units would compute anew.
func spreadKeep(order, outputs []*Node, keep map[*Node]bool) {
	owner := map[*Node]*Node{} // the unit's root; nil for the sink's
	owned := map[*Node]bool{}
	claim := func(n, root *Node) {
		if keep[n] {
			return
		}
		if owned[n] && owner[n] != root {
			keep[n] = true
			return
		}
		owned[n], owner[n] = true, root
	}
	for _, n := range outputs {
		claim(n, nil)
	}
	for i := len(order) - 1; i >= 0; i-- { // readers before inputs
		n := order[i]
		root := owner[n]
		if keep[n] {
			root = n
		}
		for _, in := range n.Inputs {
			claim(in, root)
		}
	}
}

// fill collects the fused nodes of a unit and the kept units that it reads.
func (s *shape) fill(u *unit, last []*Node) *unit {
	seen := map[*Node]bool{}
	var visit func(n *Node)
	visit = func(n *Node) {
		if seen[n] {
			return
		}
		seen[n] = true
		for i, in := range n.Inputs {
			if k := s.kept[in]; k != nil {
				u.reads = append(u.reads, edge{n, i, k, n.Reach})
			} else {
				visit(in)
			}
		}
		u.order = append(u.order, n)
	}
	for i, n := range last {
		if k := s.kept[n]; k != nil && k != u {
			u.reads = append(u.reads, edge{nil, i, k, 0})
		} else {
			visit(n)
		}
	}
	return u
}

// domains returns the cells of each kept unit that a window of the outputs
// needs.
func (s *shape) domains(w raster.Window) map[*unit]raster.Window {
	d := map[*unit]raster.Window{s.sink: w}
	grow := func(u *unit) {
		for _, e := range u.reads {
			d[e.from] = d[e.from].Union(d[u].Grow(e.reach))
		}
	}
	grow(s.sink)
	for _, u := range s.units {
		grow(u)
	}
	return d
}
