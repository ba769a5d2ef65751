package gridref

import "math"

// The ellipsoid of WGS 84 and the scale of UTM on its central meridian.
const (
	semiMajor  = 6378137.0
	flattening = 1 / 298.257223563
	scale      = 0.9996
	third      = flattening / (2 - flattening) // third flattening
)

// series are the coefficients of Krüger's series in the third flattening, to
// the sixth order.
var series = func() [6]float64 {
	const n = third
	return [6]float64{
		n * (1.0/2 + n*(-2.0/3+n*(5.0/16+n*(41.0/180+n*(-127.0/288+n*7891/37800))))),
		n * n * (13.0/48 + n*(-3.0/5+n*(557.0/1440+n*(281.0/630+n*-1983433/1935360)))),
		n * n * n * (61.0/240 + n*(-103.0/140+n*(15061.0/26880+n*167603/181440))),
		n * n * n * n * (49561.0/161280 + n*(-179.0/168+n*6601661/7257600)),
		n * n * n * n * n * (34729.0/80640 + n*-3418889/1995840),
		n * n * n * n * n * n * 212378941 / 319334400,
	}
}()

// rectifying is the radius of the sphere whose meridians are as long as the
// ellipsoid's.
const rectifying = semiMajor / (1 + third) * (1 + third*third/4 + third*third*third*third/64)

// mercator is the transverse Mercator projection with the scale of UTM:
// metres east of a central meridian and north of the equator, from degrees of
// latitude and of longitude from that meridian. Within 10 degrees it is good
// to some nanometres (Karney 2011, Journal of Geodesy 85:475–485, after
// Krüger 1912).
func mercator(lat, lon float64) (x, y float64) {
	eccentricity := math.Sqrt(flattening * (2 - flattening))
	sinLat, cosLat := math.Sincos(lat * math.Pi / 180)
	sinLon, cosLon := math.Sincos(lon * math.Pi / 180)
	tau := sinLat / cosLat
	sigma := math.Sinh(eccentricity * math.Atanh(eccentricity*sinLat))
	conformal := tau*math.Hypot(1, sigma) - sigma*math.Hypot(1, tau) // tangent of the conformal latitude
	xi, eta := math.Atan2(conformal, cosLon), math.Asinh(sinLon/math.Hypot(conformal, cosLon))
	north, east := xi, eta
	for i, a := range series {
		j := float64(2 * (i + 1))
		north += a * math.Sin(j*xi) * math.Cosh(j*eta)
		east += a * math.Cos(j*xi) * math.Sinh(j*eta)
	}
	return scale * rectifying * east, scale * rectifying * north
}
