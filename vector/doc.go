// Package vector holds the nouns of drawn maps, a [Feature] with its rings
// and attributes, and reads them from files: it is the one door to OGR.
//
// It leaves to others what an attribute means, the grid (package maps lays
// polygons on it) and every change of coordinates (package crs). The formats
// we write have a package each below this one.
//
// Coordinates are in the layer's own coordinate reference system, x east or
// longitude, y north or latitude, whatever order the file keeps. Heights and
// measures are dropped. A missing attribute is a [Value] with Null set; it is
// never confused with 0 or the empty text.
package vector
