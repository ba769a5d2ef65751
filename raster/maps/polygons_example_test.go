package maps_test

import (
	"fmt"

	"likelyground/raster"
	"likelyground/raster/maps"
)

// A box of the plan, in degrees, as a mask over a small grid in metres. The
// grid lies askew to the meridians.
func ExampleOpenBox() {
	grid := raster.Grid{CRS: "EPSG:25831", X0: 430000, Y0: 5_770_000, DX: 5000, DY: 5000, Cols: 8, Rows: 4}
	area, err := maps.OpenBox(2.1, 51.92, 2.4, 52.04, "EPSG:4326", grid, "")
	if err != nil {
		panic(err)
	}
	defer area.Close()
	reader, err := area.Reader()
	if err != nil {
		panic(err)
	}
	tile := raster.NewClassTile(grid.Window())
	if err := reader.Read(tile, nil); err != nil {
		panic(err)
	}
	reader.Close()
	for row := range grid.Rows {
		fmt.Println(tile.CodeRow(row))
	}
	fmt.Println(area.Judge().Codes)
	// Output:
	// [0 0 0 0 0 0 0 0]
	// [0 0 1 1 1 1 0 0]
	// [0 0 1 1 1 1 0 0]
	// [0 0 1 1 1 1 0 0]
	// [{0 20} {1 12}]
}
