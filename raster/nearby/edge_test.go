package nearby

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"likelyground/raster"
)

// TestEdgeTable: by hand. A wood three cells wide beside open ground, a hole in
// the map at its other side, open ground behind the hole.
func TestEdgeTable(t *testing.T) {
	const ground = "0 0 1 1 1 - 0"
	for side, want := range map[Side][]float64{
		Both:    {20, 10, 10, 20, 20, -1, 20},
		Inside:  {0, 0, 10, 20, 20, -1, 0},
		Outside: {20, 10, 0, 0, 0, -1, 20},
	} {
		e := NewEdge(10, 10, 100, side)
		src, dst := pad(ground, e.Reach())
		e.Classes(dst, src, member)
		for i, v := range dst.Values {
			if missing := v != v; missing != (want[i] < 0) || !missing && float64(v) != want[i] {
				t.Errorf("side %d, cell %d: %g, want %g", side, i, v, want[i])
			}
		}
	}
}

// TestEdgeOfTheKnown: neither a hole nor the end of the map is an edge.
func TestEdgeOfTheKnown(t *testing.T) {
	e := NewEdge(10, 10, 50, Both)
	for _, ground := range []string{"1 1 - 1 1/1 1 1 1 1", "0 - 0 0 0/0 0 0 0 -"} {
		src, dst := pad(ground, e.Reach())
		e.Classes(dst, src, member)
		for i, v := range dst.Values {
			if v == v && v != 50 {
				t.Errorf("%s: cell %d lies %g m from an edge, and there is none", ground, i, v)
			}
		}
	}
}

// refereed asks scipy's exact Euclidean distance transform for the distance
// of every cell to the nearest known one on the other side.
const refereed = `
import json, sys
import numpy as np
from scipy.ndimage import distance_transform_edt
q = json.load(sys.stdin)
a = np.array(q["ground"]).reshape(q["rows"], q["cols"])
def to(marks):
    return distance_transform_edt(~marks, sampling=(q["dy"], q["dx"]))
out = np.where(a == 1, to(a == 0), to(a == 1))
json.dump(out.ravel().tolist(), sys.stdout)
`

// TestEdgeAgainstScipy draws ground with holes and holds the edge, far beyond
// the ground's own size, to scipy.
func TestEdgeAgainstScipy(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, cell := range [][2]float64{{10, 10}, {10, 20}, {7, 3}} {
		w := raster.Window{Cols: 70, Rows: 50}
		e := NewEdge(cell[0], cell[1], 150*cell[0], Both)
		src := raster.NewClassTile(w.Grow(e.Reach()))
		src.FillMissing()
		var ground []int
		for i := range w.Size() {
			code := 0 // blobs of a wood, some cells at random, some holes
			if x, y := float64(i%w.Cols), float64(i/w.Cols); math.Sin(x/7)*math.Cos(y/9) > 0.3 || r.IntN(60) == 0 {
				code = 1
			}
			if r.IntN(15) == 0 {
				code = -1
			} else {
				src.Codes[src.Index(i%w.Cols, i/w.Cols)] = int32(code)
			}
			ground = append(ground, code)
		}
		dst := raster.NewTile(w)
		e.Classes(dst, src, member)
		ask, err := json.Marshal(map[string]any{"ground": ground, "cols": w.Cols, "rows": w.Rows, "dx": cell[0], "dy": cell[1]})
		if err != nil {
			t.Fatal(err)
		}
		run := exec.Command("/usr/bin/python3", "-c", refereed)
		run.Stdin = strings.NewReader(string(ask))
		answer, err := run.Output()
		if err != nil {
			t.Fatal(err)
		}
		var want []float64
		if err := json.Unmarshal(answer, &want); err != nil {
			t.Fatal(err)
		}
		for i, v := range dst.Values {
			if ground[i] < 0 {
				if v == v {
					t.Errorf("cells %v, cell %d: %g in a hole", cell, i, v)
				}
			} else if math.Abs(float64(v)-want[i]) > 1e-6*want[i] {
				t.Errorf("cells %v, cell %d: %g, scipy has %g", cell, i, v, want[i])
			}
		}
	}
}

func ExampleEdge() {
	e := NewEdge(10, 10, 20, Both)
	src := raster.Tile{Window: raster.Window{Col: -2, Row: -2, Cols: 8, Rows: 5}, Codes: make([]int32, 40)}
	for row := range src.Rows {
		fill(src.CodeRow(src.Row + row)[4:], 1) // from column 2 on
	}
	dst := raster.NewTile(raster.Window{Cols: 4, Rows: 1})
	e.Classes(dst, src, member)
	fmt.Println(dst.Values)
	// Output: [20 10 10 20]
}
