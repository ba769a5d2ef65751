package maps

import (
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"likelyground/raster"
)

// The tree finds what looking at every box finds.
func TestBoxTree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		parts := make([]runPart, rapid.IntRange(0, 2000).Draw(t, "parts"))
		for i := range parts {
			col, row := r.Int32N(1000)-100, r.Int32N(1000)-100
			parts[i] = runPart{col0: col, row0: row, col1: col + r.Int32N(60), row1: row + 1 + r.Int32N(60)}
		}
		tree := newBoxTree(parts)
		w := raster.Window{Col: r.IntN(1000) - 50, Row: r.IntN(1000) - 50, Cols: 1 + r.IntN(300), Rows: 1 + r.IntN(300)}
		want := box{int32(w.Col), int32(w.Row), int32(w.EndCol()), int32(w.EndRow())}
		var all []int32
		for i := range parts {
			if parts[i].box().meets(want) {
				all = append(all, int32(i))
			}
		}
		if got := tree.search(nil, w); !slices.Equal(got, all) {
			t.Fatalf("%v, want %v", got, all)
		}
	})
}
