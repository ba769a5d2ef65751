package patch

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Patch is one connected patch of the whole grid.
type Patch struct {
	Stats
	pieces []piece
}

// piece is the part of a patch in one tile.
type piece struct{ tile, label int32 }

// Solution holds the patches of a grid, northern ones first, as far north
// western ones first (by their first cells).
type Solution struct {
	Patches []Patch
	Tally   Tally

	store *Store
	tiles []entry
}

// Solve joins the components of all tiles, over sides and corners, and gives
// the patches of at least Rule.Least or Rule.Length. The tiles put into the
// store must cover a rectangle, cut by lines that run through from side to
// side.
//
// It needs some 30 bytes for each component of a tile that the survey kept,
// and the statistics of each patch that it gives; where lengths are asked for
// 16 bytes more, and the hulls of those patches whose box cannot tell.
func (s *Store) Solve() (*Solution, error) {
	tiles, err := layout(s.tiles)
	if err != nil {
		return nil, err
	}
	v := solver{store: s, tiles: tiles}
	if err := v.number(); err != nil {
		return nil, err
	}
	if err := v.join(); err != nil {
		return nil, err
	}
	if err := v.choose(); err != nil {
		return nil, err
	}
	parts, sums, err := v.gather()
	if err != nil {
		return nil, err
	}
	return v.solution(parts, sums), nil
}

// layout returns the tiles row by row after checking that they leave no gap.
func layout(tiles []entry) ([]entry, error) {
	tiles = slices.Clone(tiles)
	slices.SortFunc(tiles, func(a, b entry) int {
		return cmp.Or(cmp.Compare(a.window.Row, b.window.Row), cmp.Compare(a.window.Col, b.window.Col))
	})
	wide := 0
	for wide < len(tiles) && tiles[wide].window.Row == tiles[0].window.Row {
		wide++
	}
	for i, t := range tiles {
		w := t.window
		ok := !w.Empty()
		if i%wide > 0 {
			before := tiles[i-1].window
			ok = ok && w.Row == before.Row && w.Rows == before.Rows && w.Col == before.EndCol()
		}
		if i >= wide {
			above := tiles[i-wide].window
			ok = ok && w.Col == above.Col && w.Cols == above.Cols && w.Row == above.EndRow()
		}
		if !ok {
			return nil, fmt.Errorf("patches: tile %+v does not continue the lattice of the tiles before it", w)
		}
	}
	if wide > 0 && len(tiles)%wide != 0 {
		return nil, fmt.Errorf("patches: the last row of tiles is not complete: %d tiles, %d a row", len(tiles), wide)
	}
	return tiles, nil
}

// solver holds the state of one Solve. Components are numbered through all
// tiles, row by row.
type solver struct {
	store *Store
	tiles []entry
	base  []int32 // number of each tile's first component
	sets  sets
	area  []int64 // of each component, later of each set at its root
	box   []box   // as area; nil where no length is asked for
	long  []bool  // of each set at its root: long enough though it is small; as box
	patch []int32 // which patch each component belongs to, -1 none
	keep  int     // patches that are large enough; those after them are small
	count int

	bytes []byte
}

func (v *solver) number() error {
	total := int64(0)
	for _, t := range v.tiles {
		v.base = append(v.base, int32(total))
		total += int64(t.parts)
		if total > math.MaxInt32 {
			return fmt.Errorf("patches: more than %d pieces; raise the threshold or the least area", math.MaxInt32)
		}
	}
	v.sets = make(sets, total)
	for i := range v.sets {
		v.sets[i] = int32(i)
	}
	v.area = make([]int64, total)
	if v.store.rule.Length > 0 {
		v.box = make([]box, total)
	}
	return nil
}

// read decodes the head of a tile, labels numbered through.
func (v *solver) read(h *head, tile int) (err error) {
	t := v.tiles[tile]
	if v.bytes, err = v.store.read(v.bytes, t.at, t.head); err != nil {
		return err
	}
	if err := h.decode(v.bytes, v.store.factors, v.base[tile]); err != nil {
		return fmt.Errorf("patches: tile %+v: %w", t.window, err)
	}
	return nil
}

// join unites components that touch over tile borders. The lower sides of a
// whole row of tiles are held against the upper sides of the next row, which
// takes care of corners.
func (v *solver) join() error {
	var above, tops, bottoms, rights []border
	var h head
	for i, t := range v.tiles {
		if i > 0 && v.tiles[i-1].window.Row != t.window.Row {
			v.touch(above, tops)
			above, bottoms = bottoms, above[:0]
			tops, rights = tops[:0], rights[:0]
		}
		if err := v.read(&h, i); err != nil {
			return err
		}
		v.touch(rights, h.sides[left])
		rights = append(rights[:0], h.sides[right]...)
		tops = append(tops, h.sides[top]...)
		bottoms = append(bottoms, h.sides[bottom]...)
		for k := range h.parts {
			v.area[int(v.base[i])+k] = h.parts[k].area
			if v.box != nil {
				v.box[int(v.base[i])+k] = h.parts[k].box
			}
		}
	}
	v.touch(above, tops)
	return nil
}

// touch unites the components along a line that has a on one side and b on
// the other, both ordered along it. Stretches that follow each other without
// a gap are neighbours across a tile border and are united from there.
func (v *solver) touch(a, b []border) {
	for len(a) > 0 && len(b) > 0 {
		if a[0].from <= b[0].to && b[0].from <= a[0].to {
			v.sets.join(a[0].label, b[0].label)
		}
		if a[0].to < b[0].to {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
}

// choose numbers the sets that are large enough, and after them the largest
// of those that are not, for the tally.
func (v *solver) choose() error {
	v.patch = make([]int32, len(v.sets))
	if err := v.addAreas(); err != nil {
		return err
	}
	if err := v.findLong(); err != nil {
		return err
	}
	largest := int64(-1)
	for i := range v.sets {
		v.patch[i] = -1
		if v.sets[i] != int32(i) {
			continue
		}
		if v.enough(i) {
			v.patch[i] = int32(v.count)
			v.count++
		} else {
			largest = max(largest, v.area[i])
		}
	}
	v.keep = v.count
	for i := range v.sets {
		root := v.sets.find(int32(i))
		if root == int32(i) && v.patch[i] < 0 && v.area[i] == largest {
			v.patch[i] = int32(v.count)
			v.count++
		}
		v.patch[i] = v.patch[root]
	}
	return nil
}

// enough reports whether the set at a root is large enough, or long enough.
func (v *solver) enough(root int) bool {
	return v.area[root] >= v.store.rule.Least || v.long != nil && v.long[root]
}

// addAreas adds the areas of each set up at its root.
func (v *solver) addAreas() error {
	for i := range v.sets {
		root := v.sets.find(int32(i))
		if root == int32(i) {
			continue
		}
		if v.area[root] += v.area[i]; v.area[root] < 0 {
			return fmt.Errorf("patches: a patch is larger than 9.2 million km²; raise the threshold")
		}
	}
	return nil
}

// gather adds up the components of each patch.
func (v *solver) gather() ([]part, []FactorSum, error) {
	m := max(v.store.factors, 0)
	parts := make([]part, v.count)
	sums := make([]FactorSum, v.count*m)
	var h head
	for i, t := range v.tiles {
		mine := v.patch[v.base[i]:][:t.parts]
		if !slices.ContainsFunc(mine, func(p int32) bool { return p >= 0 }) {
			continue
		}
		if err := v.read(&h, i); err != nil {
			return nil, nil, err
		}
		for k, p := range mine {
			if p < 0 {
				continue
			}
			parts[p].join(h.parts[k])
			for f, s := range h.sums[k*m : (k+1)*m] {
				sums[int(p)*m+f].Sum += s.Sum
				sums[int(p)*m+f].Known += s.Known
			}
		}
	}
	return parts, sums, nil
}

// solution puts the patches in order.
func (v *solver) solution(parts []part, sums []FactorSum) *Solution {
	out := &Solution{Tally: v.store.tally, store: v.store, tiles: v.tiles}
	m := max(v.store.factors, 0)
	pieces := v.pieces()
	for i := range parts {
		st := parts[i].stats(sums[i*m : (i+1)*m])
		if i < v.keep {
			out.Patches = append(out.Patches, Patch{st, pieces[i]})
		} else {
			out.Tally.see(st)
		}
	}
	for i := range v.sets {
		if v.sets[i] == int32(i) && !v.enough(i) {
			out.Tally.Small++
		}
	}
	slices.SortFunc(out.Patches, func(a, b Patch) int { return compare(&a.Stats, &b.Stats, northWest) })
	return out
}

// pieces lists for each patch that is kept the components it is made of, by
// tile.
func (v *solver) pieces() [][]piece {
	start := make([]int, v.keep+1)
	for _, p := range v.patch {
		if p >= 0 && int(p) < v.keep {
			start[p+1]++
		}
	}
	for p := range v.keep {
		start[p+1] += start[p]
	}
	flat := make([]piece, start[v.keep])
	out := make([][]piece, v.keep)
	for p := range out {
		out[p] = flat[start[p]:start[p]:start[p+1]]
	}
	for i, t := range v.tiles {
		for k := range t.parts {
			if p := v.patch[v.base[i]+k]; p >= 0 && int(p) < v.keep {
				out[p] = append(out[p], piece{int32(i), k})
			}
		}
	}
	return out
}
