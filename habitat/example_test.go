package habitat_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"likelyground/habitat"
	"likelyground/habitat/ellerdown"
	"likelyground/raster/maps"
)

// A plan is run from another program: here that of the Ellerdown Hills, drawn
// small.
func ExampleRun() {
	dir, err := os.MkdirTemp("", "ellerdown")
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
	small := ellerdown.Options{Size: ellerdown.Size{Cols: 300, Rows: 240}, GeoTags: maps.GeoTags}
	if err := ellerdown.Draw(ctx, dir, small); err != nil {
		fmt.Println(err)
		return
	}
	result, err := habitat.Run(ctx, filepath.Join(dir, ellerdown.PlanName), habitat.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(result.Files)
	fmt.Println(result.Areas > 0, result.Hotspots[0].Rank)
	// Output:
	// [score.tif factors.tif hotspots.geojson run.json]
	// true 1
}

func ExampleCheck() {
	_, err := habitat.Check(context.Background(), "nowhere.yaml", habitat.Options{})
	fmt.Println(err)
	// Output: there is no plan nowhere.yaml
}
