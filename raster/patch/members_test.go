package patch

import (
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

// TestMembersMatchFloodFill: whatever the tiles of the survey and the windows
// asked for, every cell of the chosen patches is told once, with its patch,
// and no other cell is.
func TestMembersMatchFloodFill(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2))
	w := raster.Window{Col: -3, Row: 5, Cols: 27, Rows: 22}
	for _, share := range []float64{0.1, 0.4, 0.7} {
		f := random(r, w, share, 0)
		_, cells := flood(f, 0.5)
		for _, size := range tileSizes {
			s := solve(t, f, Rule{From: 0.5}, size[0], size[1])
			var list []*Patch
			want := map[Cell]int{}
			for i := 0; i < len(s.Patches); i += 2 { // every other one
				for _, c := range cells[i] {
					want[c] = len(list)
				}
				list = append(list, &s.Patches[i])
			}
			checkMembers(t, s.Members(list), w, want)
		}
	}
}

func checkMembers(t *testing.T, m *Members, whole raster.Window, want map[Cell]int) {
	t.Helper()
	got := map[Cell]int{}
	reader := m.Reader()
	for row := whole.Row; row < whole.EndRow(); row += 5 {
		for col := whole.Col; col < whole.EndCol(); col += 8 {
			part := raster.Window{Col: col, Row: row, Cols: 8, Rows: 5}.Clip(whole)
			list, err := reader.In(part)
			if err != nil {
				t.Fatal(err)
			}
			if len(list) > 0 && !m.Touch(part) {
				t.Fatalf("%+v has members and is not touched", part)
			}
			for _, s := range list {
				for c := s.From; c < s.To; c++ {
					if _, twice := got[Cell{c, s.Row}]; twice || !part.Holds(raster.Window{Col: c, Row: s.Row, Cols: 1, Rows: 1}) {
						t.Fatalf("%+v, twice or outside %+v", s, part)
					}
					got[Cell{c, s.Row}] = s.Patch
				}
			}
		}
	}
	if len(got) != len(want) {
		t.Fatalf("%d cells, want %d", len(got), len(want))
	}
	for c, p := range want {
		if got[c] != p {
			t.Fatalf("cell %v is of %d, want %d", c, got[c], p)
		}
	}
}
