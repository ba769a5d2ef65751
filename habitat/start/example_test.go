package start_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"likelyground/habitat"
	"likelyground/habitat/ellerdown"
	"likelyground/habitat/start"
	"likelyground/raster/maps"
)

// From maps alone to ranked areas: a plan is started and run.
func ExampleWrite() {
	dir, err := os.MkdirTemp("", "start")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	if err := maps.Setup(0); err != nil {
		fmt.Println(err)
		return
	}
	ctx := context.Background()
	if err := ellerdown.Draw(ctx, dir, ellerdown.Options{Size: ellerdown.Size{Cols: 100, Rows: 80}, GeoTags: maps.GeoTags}); err != nil {
		fmt.Println(err)
		return
	}
	in := filepath.Join(dir, "inputs")
	files := []string{filepath.Join(in, "soil_ph.tif"), filepath.Join(in, "dem.tif"), filepath.Join(in, "geology.gpkg")}
	made, err := start.Write(ctx, files, start.Options{Out: filepath.Join(dir, "mine.yaml")})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, m := range made.Maps {
		fmt.Printf("%s: %s\n", m.Name, m.Holds)
	}
	result, err := habitat.Run(ctx, made.Plan, habitat.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(result.Areas > 0)
	// Output:
	// ground: heights
	// soil: pH
	// geology: classes
	// true
}
