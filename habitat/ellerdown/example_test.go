package ellerdown_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"likelyground/habitat/ellerdown"
	"likelyground/raster/cog"
)

// A corner of the country, without coordinate reference systems in its maps:
// who wants those passes maps.GeoTags.
func ExampleDraw() {
	dir, err := os.MkdirTemp("", "ellerdown")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	err = ellerdown.Draw(context.Background(), dir, ellerdown.Options{
		Size:    ellerdown.Size{Cols: 128, Rows: 96},
		GeoTags: func(string) (cog.GeoTags, error) { return cog.GeoTags{}, nil },
	})
	if err != nil {
		panic(err)
	}
	maps, _ := filepath.Glob(filepath.Join(dir, "inputs", "*"))
	for _, m := range maps {
		fmt.Println(filepath.Base(m))
	}
	// Output:
	// area.geojson
	// cover.tif
	// cover_legend.csv
	// dem.tif
	// geology.gpkg
	// soil_ph.tif
}
