package crs

/*
#include <geodesic.h>
*/
import "C"

// The ellipsoid of WGS 84.
const (
	wgs84Radius     = 6378137.0
	wgs84Flattening = 1 / 298.257223563
)

// PolygonArea returns the area in square metres and the perimeter in metres of
// a polygon of geodesics on the WGS 84 ellipsoid (Karney 2013). Corners are in
// degrees, lon and lat of the same length; the ring closes itself. The area is
// positive for a counter-clockwise ring, negative for a clockwise one, and 0
// for fewer than three corners.
func PolygonArea(lon, lat []float64) (area, perimeter float64) {
	if len(lon) == 0 {
		return 0, 0
	}
	lat = lat[:len(lon)]
	var g C.struct_geod_geodesic
	C.geod_init(&g, wgs84Radius, wgs84Flattening)
	var a, p C.double
	C.geod_polygonarea(&g, (*C.double)(&lat[0]), (*C.double)(&lon[0]), C.int(len(lon)), &a, &p)
	return float64(a), float64(p)
}

// Distance returns the length in metres of the geodesic between two places on
// the WGS 84 ellipsoid and its azimuths at both ends, in degrees clockwise
// from north (Karney 2013).
func Distance(lon1, lat1, lon2, lat2 float64) (length, azimuth1, azimuth2 float64) {
	var g C.struct_geod_geodesic
	C.geod_init(&g, wgs84Radius, wgs84Flattening)
	var s, a, b C.double
	C.geod_inverse(&g, C.double(lat1), C.double(lon1), C.double(lat2), C.double(lon2), &s, &a, &b)
	return float64(s), float64(a), float64(b)
}
