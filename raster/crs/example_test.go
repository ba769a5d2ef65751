package crs_test

import (
	"fmt"
	"log"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// Where do the first cells of a run's grid lie in a map of another country?
func Example() {
	grid := raster.Grid{CRS: "EPSG:25830", X0: 700000, Y0: 5800000, DX: 10, DY: 10, Cols: 100, Rows: 100}
	area, err := crs.UsableBox(grid.CRS, 700000, 5799000, 701000, 5800000)
	if err != nil {
		log.Fatal(err)
	}
	op, err := crs.Choose(grid.CRS, "EPSG:27700", area, crs.Options{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("good to %g m; ballpark: %v\n", op.Accuracy, op.Ballpark)

	lattice, err := crs.NewLattice(grid, op, crs.Affine{500000, 25, 0, 300000, 0, -25})
	if err != nil {
		log.Fatal(err)
	}
	reader, err := lattice.Reader()
	if err != nil {
		log.Fatal(err)
	}
	defer reader.Close()
	cols, rows := make([]float64, 3), make([]float64, 3)
	reader.Row(0, 3, 0, 1, 0, cols, rows)
	for i := range cols {
		fmt.Printf("%.2f %.2f\n", cols[i], rows[i])
	}
	// Output:
	// good to 3 m; ballpark: false
	// 1278.08 1193.16
	// 1278.48 1193.17
	// 1278.88 1193.17
}

func ExampleDescribe() {
	info, err := crs.Describe("+proj=utm +zone=31 +datum=WGS84")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(info.ID, info.Name, info.MetresPerUnit)
	_, err = crs.Describe("27700")
	fmt.Println(err)
	// Output:
	// EPSG:32631 WGS 84 / UTM zone 31N 1
	// 27700 is a number, not a coordinate reference system
}

// A square kilometre on a web map at 52° north is not one on the ground.
func ExampleAreas() {
	areas, err := crs.NewAreas(raster.Grid{CRS: "EPSG:3857", X0: 0, Y0: 6801000, DX: 1000, DY: 1000, Cols: 1, Rows: 1})
	if err != nil {
		log.Fatal(err)
	}
	defer areas.Close()
	mm2 := make([]int64, 1)
	areas.Reader().Row(0, 1, 0, mm2)
	fmt.Printf("%.0f m²\n", float64(mm2[0])/1e6)
	// Output: 379616 m²
}
