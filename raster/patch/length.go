package patch

import (
	"cmp"
	"math"
	"slices"
)

// The length of a patch is the greatest distance between two of its points,
// its cells being the rectangles that they are: between two corners of its
// convex hull. Hulls are in whole numbers and exact (monotone chain, Andrew
// 1979); the pair of corners is found by rotating calipers (Shamos 1978), for
// which whole numbers are enough too, as the sides of a cell stretch no
// parallel lines apart. Both cited from memory.

// corner is a corner of cells, that of the cell to its south-east.
type corner struct{ col, row int32 }

// cellSides are the sides of a cell in metres.
type cellSides struct{ dx, dy float64 }

func (r *Rule) sides() cellSides {
	s := cellSides{r.DX, r.DY}
	if s.dx <= 0 {
		s.dx = 1
	}
	if s.dy <= 0 {
		s.dy = 1
	}
	return s
}

// metres is the length of a step of some columns and rows.
func (s cellSides) metres(cols, rows int64) float64 {
	x, y := float64(cols)*s.dx, float64(rows)*s.dy
	return math.Sqrt(float64(x*x) + float64(y*y))
}

// hull is the convex hull of cells, while they are being added. The zero hull
// has none.
type hull struct {
	corners []corner // of the hull, and those added since
	sure    int      // corners of the hull when it was last worked out
	spare   []corner
}

// fewest is from how many corners on a hull is worked out anew.
const fewest = 256

func (h *hull) reset() { h.corners, h.sure = h.corners[:0], 0 }

// add adds the cells of a run.
func (h *hull) add(r run) {
	if len(h.corners) >= max(fewest, 4*h.sure) {
		h.settle()
	}
	h.corners = append(h.corners, corner{r.from, r.row}, corner{r.to, r.row}, corner{r.from, r.row + 1}, corner{r.to, r.row + 1})
}

// settle leaves the corners of the hull alone, in order around it, none of
// them on the line between its neighbours.
func (h *hull) settle() {
	slices.SortFunc(h.corners, func(a, b corner) int {
		return cmp.Or(cmp.Compare(a.col, b.col), cmp.Compare(a.row, b.row))
	})
	h.corners = slices.Compact(h.corners)
	out := h.spare[:0]
	for _, c := range h.corners {
		out = turn(out, 0, c)
	}
	half := max(len(out)-1, 0) // the last corner begins the way back
	for _, c := range slices.Backward(h.corners) {
		out = turn(out, half, c)
	}
	h.spare = out
	h.corners = append(h.corners[:0], out[:max(len(out)-1, 0)]...) // the first corner is there already
	h.sure = len(h.corners)
}

// turn appends a corner to a chain that begins at from and turns one way all
// along.
func turn(chain []corner, from int, c corner) []corner {
	for len(chain) >= from+2 && cross(chain[len(chain)-2], chain[len(chain)-1], c) <= 0 {
		chain = chain[:len(chain)-1]
	}
	if len(chain) > from && chain[len(chain)-1] == c {
		return chain
	}
	return append(chain, c)
}

// cross is twice the area of the triangle a, b, c, in cells; its sign tells to
// which side of the line from a to b c lies.
func cross(a, b, c corner) int64 {
	return (int64(b.col)-int64(a.col))*(int64(c.row)-int64(a.row)) - (int64(b.row)-int64(a.row))*(int64(c.col)-int64(a.col))
}

// length returns the greatest distance between two corners in metres; 0 where
// no cell was added.
func (h *hull) length(s cellSides) float64 {
	h.settle()
	p := h.corners
	longest := 0.0
	see := func(i, j int) {
		a, b := p[i%len(p)], p[j%len(p)]
		longest = max(longest, s.metres(int64(b.col)-int64(a.col), int64(b.row)-int64(a.row)))
	}
	j := 1
	for i := range p {
		away := func(k int) int64 { return cross(p[i], p[(i+1)%len(p)], p[k%len(p)]) }
		for away(j+1) > away(j) {
			j++
		}
		see(i, j)
		see(i+1, j)
		if away(j+1) == away(j) { // two sides face each other
			see(i, j+1)
			see(i+1, j+1)
		}
	}
	return longest
}

// rim is by how much, relatively, a length may fall short of the least one,
// so that rounding leaves out no patch that just has it.
const rim = 1e-9

func (r *Rule) long(metres float64) bool { return metres >= r.Length*(1-rim) }

// verdict is what the box around a patch tells of its length.
type verdict uint8

const (
	short verdict = iota
	open          // only its hull can tell
	long
)

// verdict tells whether what a box is around is long: for sure where a side of its box is,
// surely not where its diagonal is not.
func (r *Rule) verdict(b box) verdict {
	s := r.sides()
	cols, rows := int64(b.east)-int64(b.west), int64(b.south)-int64(b.north)
	switch {
	case r.Length <= 0 || !r.long(s.metres(cols, rows)):
		return short
	case r.long(max(s.metres(cols, 0), s.metres(0, rows))):
		return long
	}
	return open
}

// sift finds those components inside the tile that are long enough though
// they are smaller than the rule's least area.
func (s *Surveyor) sift() {
	o := &s.out
	s.verdicts = cleared(s.verdicts, len(o.parts))
	if s.rule.Length <= 0 {
		return
	}
	s.hullOf = s.hullOf[:0]
	hulls := 0
	for i := range o.parts {
		p := &o.parts[i]
		at := int32(-1)
		if p.area < s.rule.Least && inside(p, o.Window) {
			s.verdicts[i] = s.rule.verdict(p.box)
			if s.verdicts[i] == open {
				at = int32(hulls)
				hulls++
			}
		}
		s.hullOf = append(s.hullOf, at)
	}
	if hulls > 0 {
		s.measureHulls(hulls)
	}
}

// measureHulls decides on the components that have a hull.
func (s *Surveyor) measureHulls(hulls int) {
	for len(s.hulls) < hulls {
		s.hulls = append(s.hulls, hull{})
	}
	for i := range s.hulls[:hulls] {
		s.hulls[i].reset()
	}
	for _, r := range s.out.runs {
		if at := s.hullOf[r.label]; at >= 0 {
			s.hulls[at].add(r)
		}
	}
	for i, at := range s.hullOf {
		if at >= 0 {
			s.verdicts[i] = short
			if s.rule.long(s.hulls[at].length(s.rule.sides())) {
				s.verdicts[i] = long
			}
		}
	}
}

// findLong finds those sets of components that are long enough though they
// are smaller than the rule's least area. The areas have been added up.
func (v *solver) findLong() error {
	rule := &v.store.rule
	if rule.Length <= 0 {
		return nil
	}
	v.addBoxes()
	v.long = make([]bool, len(v.sets))
	hulls := map[int32]*hull{}
	for i := range v.sets {
		if v.sets[i] != int32(i) || v.area[i] >= rule.Least {
			continue
		}
		switch rule.verdict(v.box[i]) {
		case long:
			v.long[i] = true
		case open:
			hulls[int32(i)] = &hull{}
		}
	}
	v.box = nil
	if len(hulls) == 0 {
		return nil
	}
	if err := v.fillHulls(hulls); err != nil {
		return err
	}
	for i, h := range hulls { // each by itself, in no matter which order
		v.long[i] = rule.long(h.length(rule.sides()))
	}
	return nil
}

// addBoxes widens the box at each root to hold those of its set.
func (v *solver) addBoxes() {
	for i := range v.sets {
		if root := v.sets.find(int32(i)); root != int32(i) {
			v.box[root].widen(v.box[i])
		}
	}
}

// fillHulls adds the cells of some sets to their hulls, tile by tile.
func (v *solver) fillHulls(hulls map[int32]*hull) error {
	var wanted []bool
	var runs []run
	for i, t := range v.tiles {
		wanted = cleared(wanted, int(t.parts))
		any := false
		for k := range wanted {
			_, wanted[k] = hulls[v.sets.find(v.base[i]+int32(k))]
			any = any || wanted[k]
		}
		if !any {
			continue
		}
		var err error
		if runs, v.bytes, err = v.store.runs(runs[:0], v.bytes, t, wanted); err != nil {
			return err
		}
		for _, r := range runs {
			hulls[v.sets.find(v.base[i]+r.label)].add(r)
		}
	}
	return nil
}
