package hotspot_test

import (
	"fmt"
	"log"
	"os"

	"likelyground/habitat/hotspot"
	"likelyground/raster"
	"likelyground/raster/patch"
)

// squares gives every cell the area of a 50 m square.
type squares struct{}

func (squares) Row(col, cols, row int, out []int64) {
	for i := range out[:cols] {
		out[i] = 2_500 * 1_000_000
	}
}

func Example() {
	rule := hotspot.Rule{From: 0.7, LeastHa: 0.5}
	store, err := patch.NewStore(os.TempDir(), rule.Patches())
	if err != nil {
		log.Fatal(err)
	}
	defer store.Close()
	score := raster.Tile{Window: raster.Window{Cols: 4, Rows: 2}, Values: []float32{
		0.75, 0.75, 0.5, 0.75,
		0.00, 0.00, 0.5, 1.00,
	}}
	summary, err := patch.NewSurveyor(rule.Patches(), squares{}).Survey(score, nil)
	if err != nil {
		log.Fatal(err)
	}
	if err := store.Put(summary); err != nil {
		log.Fatal(err)
	}
	solution, err := store.Solve()
	if err != nil {
		log.Fatal(err)
	}
	result, err := hotspot.Rank(solution, nil, rule)
	if err != nil {
		log.Fatal(err)
	}
	for _, h := range result.Hotspots {
		fmt.Println(h.Rank, h.AreaHa, "ha, mean", h.Mean, "max", h.Max, "at", h.Point)
	}
	// Output:
	// 1 0.5 ha, mean 0.875 max 1 at {3 0}
	// 2 0.5 ha, mean 0.75 max 0.75 at {0 0}
}
