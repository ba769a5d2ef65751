package ellerdown

import (
	"bytes"
	"fmt"
	"math"

	"likelyground/raster/crs"
)

// areaCorners is the number of corners of the area's outline.
const areaCorners = 96

// writeArea writes the ground to search as one polygon in longitude and
// latitude: the country without a strip along its rim, its corners rounded,
// its outline a little uneven.
func writeArea(path string, country box) error {
	x, y := outline(country)
	at, err := crs.UsableBox(countryCRS, country.west, country.south, country.east, country.north)
	if err != nil {
		return err
	}
	op, err := crs.Choose(countryCRS, "EPSG:4326", at, crs.Options{})
	if err != nil {
		return err
	}
	t, err := op.Open()
	if err != nil {
		return err
	}
	defer t.Close()
	t.Forward(x, y)
	return writeBytes(path, geoJSON(x, y))
}

// outline goes round counter-clockwise, its last corner the first again.
func outline(b box) (x, y []float64) {
	halfX, halfY := (b.east-b.west)/2, (b.north-b.south)/2
	for k := range areaCorners + 1 {
		dx, dy := direction(k % areaCorners)
		// On the curve dx⁸ + dy⁸ = 1, a rectangle with round corners.
		d2x, d2y := float64(dx*dx), float64(dy*dy)
		d4x, d4y := float64(d2x*d2x), float64(d2y*d2y)
		out := 1 / math.Sqrt(math.Sqrt(math.Sqrt(float64(d4x*d4x)+float64(d4y*d4y))))
		out = float64(out * (0.955 + float64(0.03*noise(float64(dx*3.1), float64(dy*3.1), 91))))
		x = append(x, b.west+halfX+float64(float64(out*dx)*halfX))
		y = append(y, b.south+halfY+float64(float64(out*dy)*halfY))
	}
	return x, y
}

// direction is one of areaCorners directions all round: along the edges of
// a square, which needs no sine.
func direction(k int) (dx, dy float64) {
	const quarter = areaCorners / 4
	along := float64(k%quarter)/(quarter/2) - 1 // -1 to 1
	switch k / quarter {
	case 0:
		return 1, along
	case 1:
		return -along, 1
	case 2:
		return -1, -along
	}
	return along, -1
}

func geoJSON(lon, lat []float64) []byte {
	var b bytes.Buffer
	b.WriteString(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"ground to search"},"geometry":{"type":"Polygon","coordinates":[[`)
	for k := range lon {
		if k > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "[%.6f,%.6f]", lon[k], lat[k])
	}
	b.WriteString("]]}}]}\n")
	return b.Bytes()
}
