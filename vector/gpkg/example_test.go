package gpkg_test

import (
	"fmt"
	"os"
	"path/filepath"

	"likelyground/vector/gpkg"
)

func ExampleWrite() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	err = gpkg.Write(filepath.Join(dir, "geology.gpkg"), []gpkg.Layer{{
		Name:   "geology",
		CRS:    "EPSG:25831",
		Fields: []gpkg.Field{{Name: "rock", Kind: gpkg.Text}},
		Features: []gpkg.Feature{{
			Polygons: [][]gpkg.Ring{{{{0, 0}, {100, 0}, {100, 100}, {0, 0}}}},
			Values:   []any{"sandstone"},
		}},
	}})
	fmt.Println(err)
	// Output: <nil>
}
