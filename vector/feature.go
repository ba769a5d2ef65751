package vector

// Point is a place: x (east or longitude), y (north or latitude), in the
// units of its coordinate reference system.
type Point = [2]float64

// Ring is a closed line; the last point repeats the first.
type Ring []Point
