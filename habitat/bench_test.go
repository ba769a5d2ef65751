package habitat

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/habitat/ellerdown"
	"likelyground/raster/maps"
)

// benchPlan has six factors of six kinds: soil by a curve, rock and cover by
// class, slope, a share within 250 m and a distance up to 500 m.
const benchPlan = `format: 1
title: six factors
grid: {like: ground}
maps:
  ground: {file: inputs/dem.tif, unit: m}
  soil: {file: inputs/soil_ph.tif, scale: 0.1, unit: pH}
  rock: {file: inputs/geology.gpkg, layer: geology, field: rock}
  cover: {file: inputs/cover.tif, legend: inputs/cover_legend.csv}
derived:
  steepness: {slope: ground}
  woodland: {share: cover, of: [beech wood, oak wood, birch wood, mixed wood], within: 250 m}
  to heath: {distance: cover, of: [heath], up to: 500 m}
factors:
  soil: {from: soil, curve: {3.4: 0.3, 4.2: 1, 5.0: 1, 6.2: 0.2, 7.2: 0.05}, weight: 3}
  rock: {from: rock, scores: {plateau sand: 1, sandstone: 1, gritstone: 0.85, river gravel: 0.7}, others: 0.2, weight: 2}
  trees: {from: cover, scores: {beech wood: 1, oak wood: 0.9, mixed wood: 0.8, birch wood: 0.7, spruce plantation: 0.5}, others: 0.05, weight: 3}
  slope: {from: steepness, curve: {0: 0.45, 3: 0.8, 6: 1, 22: 1, 38: 0.4}}
  wood: {from: woodland, curve: {0: 0.1, 0.3: 0.4, 0.8: 1}, weight: 2}
  heath: {from: to heath, curve: {0: 1, 120: 1, 500: 0.5}}
floor: 0.02
hotspots: {from: 0.85}
outputs: [score, hotspots]
`

// benchWater is what the plan with water has besides: the hollows, both ways
// of sharing out what gathers, and the wetness index, each a factor.
const benchWater = `derived:
  hollows: {hollow depth: ground}
  gathers: {gathered: ground, flow: one way}
  gathering: {wetness: ground}
factors:
  hollow: {from: hollows, curve: {0: 0.6, 0.5: 1}}
  gathers: {from: gathers, curve: {0: 0.6, 2: 1}}
  damp: {from: gathering, curve: {4: 0.4, 10: 1}}
`

// wetPlan is the plan with what water adds below its own headings.
func wetPlan() string {
	derived, factors, _ := strings.Cut(strings.TrimPrefix(benchWater, "derived:\n"), "factors:\n")
	plan := strings.Replace(benchPlan, "derived:\n", "derived:\n"+derived, 1)
	return strings.Replace(plan, "\nfactors:\n", "\nfactors:\n"+factors, 1)
}

// BenchmarkRun runs the six factors, without water and with it, on an
// Ellerdown of 3000 × 3000 cells, or on one drawn already in the folder that
// LIKELYGROUND_BENCH names.
func BenchmarkRun(b *testing.B) {
	dir := os.Getenv("LIKELYGROUND_BENCH")
	if dir == "" {
		dir = b.TempDir()
		if err := maps.Setup(0); err != nil {
			b.Fatal(err)
		}
		if err := ellerdown.Draw(context.Background(), dir, ellerdown.Options{Size: ellerdown.Size{Cols: 3000, Rows: 3000}, GeoTags: maps.GeoTags}); err != nil {
			b.Fatal(err)
		}
	}
	b.Run("dry", func(b *testing.B) { benchRun(b, dir, "bench.yaml", benchPlan) })
	b.Run("wet", func(b *testing.B) { benchRun(b, dir, "wet.yaml", wetPlan()) })
}

func benchRun(b *testing.B, dir, name, text string) {
	plan := filepath.Join(dir, name)
	if err := os.WriteFile(plan, []byte(text), 0o666); err != nil {
		b.Fatal(err)
	}
	report, err := Check(context.Background(), plan, Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(context.Background(), plan, Options{Memory: 1 << 30, Anew: true}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(report.Estimate.Cells), "ns/cell")
}
