package cog_test

import (
	"bytes"
	"fmt"
	"math"
	"os"

	"likelyground/raster"
	"likelyground/raster/cog"
)

// A score of 1200 by 800 cells goes out in tiles of any size; one cell in
// the middle is missing.
func Example() {
	scratch, err := os.MkdirTemp("", "cog")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(scratch)
	nodata := math.NaN()
	w, err := cog.Create(scratch, cog.Layout{
		Grid:   raster.Grid{CRS: "EPSG:25831", X0: 300000, Y0: 6400000, DX: 10, DY: 10, Cols: 1200, Rows: 800},
		Geo:    cog.GeoTags{Directory: []uint16{1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 25831}},
		Bands:  []cog.Band{{Description: "score", Unit: "1"}},
		Nodata: &nodata,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer w.Close()
	e := w.Encoder() // one a worker
	for row := 0; row < 800; row += 200 {
		t := raster.NewTile(raster.Window{Row: row, Cols: 1200, Rows: 200})
		if row == 400 {
			t.Values[600] = raster.Missing
		}
		if err := e.Put(0, t); err != nil {
			fmt.Println(err)
			return
		}
	}
	var out bytes.Buffer
	if err := w.Finish(&out); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%q\n", out.Bytes()[:4])
	fmt.Printf("%s\n", out.Bytes()[8+43:8+43+45])
	// Output:
	// "II*\x00"
	// LAYOUT=IFDS_BEFORE_DATA
	// BLOCK_ORDER=ROW_MAJOR
}
