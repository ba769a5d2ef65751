package maps_test

import (
	"fmt"
	"log"
	"os"
	"path/filepath"

	"likelyground/raster"
	"likelyground/raster/maps"
)

// A text grid of soil acidity, cells of 20 m in tenths of a pH, is brought
// onto a grid of 10 m.
func Example() {
	dir, err := os.MkdirTemp("", "maps")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "soil.asc")
	soil := "ncols 2\nnrows 2\nxllcorner 500000\nyllcorner 6199960\ncellsize 20\nNODATA_value -1\n45 55\n65 -1\n"
	if err := os.WriteFile(path, []byte(soil), 0o644); err != nil {
		log.Fatal(err)
	}

	grid := raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 6200000, DX: 10, DY: 10, Cols: 4, Rows: 4}
	tenth := 0.1
	m, err := maps.OpenRaster(maps.RasterSpec{Name: "soil", Files: []string{path}, CRS: "EPSG:25831", Scale: &tenth, Unit: "pH"}, grid)
	if err != nil {
		log.Fatal(err)
	}
	defer m.Close()
	reader, err := m.Reader()
	if err != nil {
		log.Fatal(err)
	}
	defer reader.Close()
	tile := raster.NewTile(grid.Window())
	if err := reader.Read(tile, nil); err != nil {
		log.Fatal(err)
	}
	for row := range grid.Rows {
		fmt.Printf("%.2f\n", tile.ValueRow(row))
	}
	found := m.Judge()
	fmt.Println(found.Known, "known,", found.Missing, "missing, problem:", found.Problem())
	// Output:
	// [4.50 4.75 5.25 5.50]
	// [5.00 5.10 5.35 5.50]
	// [6.00 5.96 NaN NaN]
	// [6.50 6.50 NaN NaN]
	// 12 known, 4 missing, problem: <nil>
}
