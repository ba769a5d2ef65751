// Package crs knows where on earth things are: it reads coordinate reference
// systems, chooses the transformation between two of them and says how good
// it is, lays exact-enough lattices of source positions over a grid, and
// measures areas on the ellipsoid. It is the one door to PROJ; opening maps
// and reading their cells is left to the rooms above.
//
// # Axes and units
//
// Everywhere x is east (longitude) and y is north (latitude), whatever order
// the registry gives; coordinates are in the CRS's own unit. Boxes in
// longitude and latitude are in degrees east of Greenwich. Only the horizontal
// part of a CRS counts: a compound or three-dimensional one is reduced to it.
//
// # Missing values
//
// A point that cannot be transformed becomes +Inf in both coordinates; a
// position on a [Lattice] that cannot be known is NaN in both; a cell without
// ground has an area of 0.
//
// # What is done about the environment
//
// PROJ's network is off in every context. The variables PROJ_NETWORK,
// PROJ_ONLY_BEST_DEFAULT, PROJ_AUX_DB, PROJ_FORCE_SEARCH_PIVOT and
// PROJ_IGNORE_CELESTIAL_BODY change results and are overridden for the whole
// process when the package is loaded.
// PROJ_LIB, PROJ_DATA and PROJ_USER_WRITABLE_DIRECTORY only say where the
// registry and grid files lie and are left alone: a grid file put there by the
// user is used, and the name of the operation chosen then tells so.
//
// # Methods
//
// Geodesic lengths and areas after Karney (2013), Algorithms for geodesics,
// J. Geodesy 87:43-55. The area of a cell is its extent in the CRS times the
// surface element of the ellipsoid there: the cross product of its tangents
// along the grid's two directions.
package crs
