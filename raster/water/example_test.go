package water_test

import (
	"context"
	"fmt"
	"log"

	"likelyground/raster"
	"likelyground/raster/water"
)

// heights is a Reader of a tile in memory.
type heights struct{ raster.Tile }

func (h heights) Read(dst raster.Tile, drains []bool) error {
	dst.CopyFrom(h.Tile)
	return nil
}

func (h heights) Close() error { return nil }

// A hollow in a slope that falls to the east, by tiles of two cells a side.
func Example() {
	ground := raster.Tile{Window: raster.Window{Cols: 5, Rows: 3}, Values: []float32{
		9, 8, 7, 6, 5,
		9, 3, 2, 4, 3,
		9, 8, 7, 6, 5,
	}}
	g := water.Ground{Window: ground.Window, DX: 10, DY: 10, Open: func() (water.Reader, error) { return heights{ground}, nil }}
	w, err := water.New(context.Background(), g, water.Options{Tile: 2})
	if err != nil {
		log.Fatal(err)
	}
	defer w.Close()
	if err := w.GatherOne(context.Background()); err != nil {
		log.Fatal(err)
	}
	out := raster.NewTile(raster.Window{Row: 1, Cols: 5, Rows: 1})
	for _, layer := range []water.Layer{water.Filled, water.HollowDepth, water.GatheredOne, water.CutOne} {
		if err := w.View().Read(layer, out); err != nil {
			log.Fatal(err)
		}
		fmt.Println(out.Values)
	}
	// Output:
	// [9 4 4 4 3]
	// [0 1 2 0 0]
	// [100 600 900 1000 1500]
	// [1 1 1 1 1]
}
