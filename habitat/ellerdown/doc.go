// Package ellerdown draws the Ellerdown Hills, an invented country laid in
// open sea: the maps one needs to look for a wood fungus, and a plan that
// uses them. It serves the demonstration and, drawn large, the benchmarks.
//
// The maps disagree in the way real ones do: heights in EPSG:25831 by 10 m,
// soil pH in EPSG:4326 by 0.002 degrees, cover in EPSG:3035 by 20 m with
// codes of its own, geology as polygons in EPSG:3034; each has holes.
//
// Nothing in it is measured and no place, person or product is meant. Shapes
// are gradient noise (Perlin 1985), folded to make valleys. What stands where
// is plain natural history: heath on plateau sand, beech on dry slopes, oak
// on heavier soil, fields in the plain, soil that follows rock and lime.
//
// The same size gives the same bytes: all values hang on positions alone, no
// product is fused into a sum, and the only foreign arithmetic is PROJ's,
// whose results are used as they are. Units are metres and pH; missing cells
// are declared as nodata in each file.
package ellerdown
