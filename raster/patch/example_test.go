package patch_test

import (
	"fmt"
	"log"
	"os"

	"likelyground/raster"
	"likelyground/raster/patch"
)

// hectares gives every cell one hectare.
type hectares struct{}

func (hectares) Row(col, cols, row int, out []int64) {
	for i := range out[:cols] {
		out[i] = 1e10
	}
}

// Two tiles side by side; a patch reaches over the border between them.
func Example() {
	rule := patch.Rule{From: 0.5, Least: 2e10}
	store, err := patch.NewStore(os.TempDir(), rule)
	if err != nil {
		log.Fatal(err)
	}
	defer store.Close()
	west := raster.Tile{Window: raster.Window{Col: 0, Cols: 3, Rows: 2}, Values: []float32{
		0.0, 0.0, 0.0,
		0.0, 0.5, 1.0,
	}}
	east := raster.Tile{Window: raster.Window{Col: 3, Cols: 3, Rows: 2}, Values: []float32{
		0.75, 0.0, 0.5,
		0.00, 0.0, 0.0,
	}}
	surveyor := patch.NewSurveyor(rule, hectares{})
	for _, tile := range []raster.Tile{west, east} {
		summary, err := surveyor.Survey(tile, nil)
		if err != nil {
			log.Fatal(err)
		}
		if err := store.Put(summary); err != nil {
			log.Fatal(err)
		}
	}
	solution, err := store.Solve()
	if err != nil {
		log.Fatal(err)
	}
	for i := range solution.Patches {
		p := &solution.Patches[i]
		shape, err := solution.Trace(p)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(p.Cells, "cells, mean", p.Mean(), "inner", shape.Inner)
		for _, part := range shape.Outline {
			fmt.Println("part", part.Shell)
		}
	}
	fmt.Println("too small:", solution.Tally.Small)
	// Output:
	// 3 cells, mean 0.75 inner {2 1}
	// part [{3 0} {3 1} {4 1} {4 0}]
	// part [{1 1} {1 2} {3 2} {3 1}]
	// too small: 1
}
