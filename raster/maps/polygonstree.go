package maps

import (
	"cmp"
	"math"
	"slices"

	"likelyground/raster"
)

// boxTree finds the polygons whose windows meet a window. It is packed once,
// level by level, by sorting the boxes into vertical slices and each slice by
// height (Leutenegger, Lopez and Edgington 1997).
type boxTree struct {
	levels [][]box // the last holds one box around all
	ids    []int32 // of the boxes of level 0
}

// box is a window by its edges, ends exclusive.
type box struct{ col0, row0, col1, row1 int32 }

// fanout is how many boxes one box of the next level holds.
const fanout = 16

func (b box) meets(o box) bool {
	return b.col0 < o.col1 && o.col0 < b.col1 && b.row0 < o.row1 && o.row0 < b.row1
}

func (b box) join(o box) box {
	return box{min(b.col0, o.col0), min(b.row0, o.row0), max(b.col1, o.col1), max(b.row1, o.row1)}
}

func (p *runPart) box() box { return box{p.col0, p.row0, p.col1, p.row1} }

func newBoxTree(parts []runPart) *boxTree {
	t := &boxTree{ids: make([]int32, len(parts))}
	for i := range t.ids {
		t.ids[i] = int32(i)
	}
	t.sort(parts)
	level := make([]box, len(parts))
	for i, id := range t.ids {
		level[i] = parts[id].box()
	}
	t.levels = append(t.levels, level)
	for len(level) > 1 {
		level = above(level)
		t.levels = append(t.levels, level)
	}
	return t
}

// sort orders the parts so that neighbours in the order are neighbours on
// the ground.
func (t *boxTree) sort(parts []runPart) {
	byCol := func(a, b int32) int {
		return cmp.Or(cmp.Compare(int64(parts[a].col0)+int64(parts[a].col1), int64(parts[b].col0)+int64(parts[b].col1)), cmp.Compare(a, b))
	}
	byRow := func(a, b int32) int {
		return cmp.Or(cmp.Compare(int64(parts[a].row0)+int64(parts[a].row1), int64(parts[b].row0)+int64(parts[b].row1)), cmp.Compare(a, b))
	}
	slices.SortFunc(t.ids, byCol)
	slice := fanout * int(math.Ceil(math.Sqrt(float64(len(t.ids))/fanout)))
	for part := range slices.Chunk(t.ids, max(slice, fanout)) {
		slices.SortFunc(part, byRow)
	}
}

func above(level []box) []box {
	var out []box
	for group := range slices.Chunk(level, fanout) {
		b := group[0]
		for _, o := range group[1:] {
			b = b.join(o)
		}
		out = append(out, b)
	}
	return out
}

// search appends the numbers of the parts that meet the window, in order.
func (t *boxTree) search(found []int32, w raster.Window) []int32 {
	if len(t.ids) == 0 {
		return found
	}
	want := box{int32(w.Col), int32(w.Row), int32(w.EndCol()), int32(w.EndRow())}
	from := len(found)
	found = t.descend(found, want, len(t.levels)-1, 0)
	slices.Sort(found[from:])
	return found
}

func (t *boxTree) descend(found []int32, want box, level, i int) []int32 {
	if !t.levels[level][i].meets(want) {
		return found
	}
	if level == 0 {
		return append(found, t.ids[i])
	}
	for j := i * fanout; j < min((i+1)*fanout, len(t.levels[level-1])); j++ {
		found = t.descend(found, want, level-1, j)
	}
	return found
}
