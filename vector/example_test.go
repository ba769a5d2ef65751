package vector_test

import (
	"fmt"
	"os"
	"path/filepath"

	"likelyground/vector"
)

func ExampleLayer_Each() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "rock.geojson")
	if err := os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"rock":"sand"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}},
{"type":"Feature","properties":{"rock":null},"geometry":{"type":"Polygon","coordinates":[[[1,0],[2,0],[1,1],[1,0]]]}}]}`), 0o644); err != nil {
		panic(err)
	}
	layer, err := vector.Open(path, "", "")
	if err != nil {
		panic(err)
	}
	defer layer.Close()
	_, err = layer.Each([]string{"rock"}, func(f *vector.Feature) error {
		fmt.Println(f.Number, f.Values[0].Null, f.Values[0].Text, len(f.Polygons[0][0]))
		return nil
	})
	fmt.Println(err)
	// Output:
	// 1 false sand 4
	// 2 true  4
	// <nil>
}
