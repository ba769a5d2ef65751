package geojson_test

import (
	"log"
	"os"

	"likelyground/vector/geojson"
)

func Example() {
	err := geojson.Write(os.Stdout, geojson.Collection{
		Members: []geojson.Property{{Name: "title", Value: "Ellerdown"}},
		Features: geojson.Features(geojson.Feature{
			Properties: []geojson.Property{{Name: "rank", Value: 1}, {Name: "area_ha", Value: 12.5}},
			Geometry: geojson.MultiPolygon{{
				{{-30.25, 45.5}, {-30.25, 45.75}, {-30, 45.75}, {-30, 45.5}},
			}},
		}),
	})
	if err != nil {
		log.Fatal(err)
	}
	// Output:
	// {"type":"FeatureCollection",
	// "title":"Ellerdown",
	// "features":[
	// {"type":"Feature","bbox":[-30.25,45.5,-30,45.75],"properties":{"rank":1,"area_ha":12.5},"geometry":{"type":"Polygon","coordinates":[[[-30,45.5],[-30,45.75],[-30.25,45.75],[-30.25,45.5],[-30,45.5]]]}}
	// ],
	// "bbox":[-30.25,45.5,-30,45.75]}
}
