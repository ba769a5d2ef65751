package habitat

import (
	"bytes"
	"testing"
)

// shapePlan uses every verb of the ground's shape and of sunshine.
const shapePlan = `format: 1
title: shape of the ground
GRID
maps:
  ground: {file: inputs/GROUND_h.tif, unit: m}
  dem: {file: inputs/dem.tif, unit: m}
derived:
  smooth: {mean: ground, within: 25 m}
  way down: {aspect: dem}
  brow: {profile curvature: smooth}
  gully: {tangential curvature: ground}
  spur: {contour curvature: dem}
  ridge: {relative position: ground, within: 85 m}
  wide ridge: {relative position: dem, within: 0.2 km}
  rough: {ruggedness: dem, after: Riley 1999}
  rough too: {ruggedness: ground, after: Wilson 2007}
  warmth: {heat load: dem}
  warmth too: {heat load: ground, equation: 3, warmest: south}
  sun: {radiation: ground, day: 80}
  sun round: {mean: sun, within: 45 m}
factors:
  way down: {from: way down, curve: {0: 1, 180: 0.4, 360: 1}}
  brow: {from: brow, curve: {-0.01: 1, 0.01: 0.4}}
  gully: {from: gully, curve: {-0.02: 1, 0.02: 0.3}}
  spur: {from: spur, curve: {-0.05: 0.4, 0.05: 0.9}}
  ridge: {from: ridge, curve: {-10: 0.8, 10: 0.3}}
  wide ridge: {from: wide ridge, curve: {-10: 0.8, 10: 0.3}}
  rough: {from: rough, curve: {0: 0.2, 20: 1}}
  rough too: {from: rough too, curve: {0: 0.3, 6: 0.9}}
  warmth: {from: warmth, curve: {0.3: 0.2, 0.9: 1}}
  warmth too: {from: warmth too, curve: {0.3: 1, 0.9: 0.2}}
  sun: {from: sun, curve: {5: 0.4, 30: 1}}
  sun round: {from: sun round, curve: {5: 0.4, 30: 1}}
RULE
keep out: [{map: way down, above: 350 deg}]
hotspots: {from: FROM, least: 0.05 ha, most: 60}
`

// TestSameShapeBytes is TestSameBytes for the shape of the ground.
func TestSameShapeBytes(t *testing.T) {
	dir := drawn(t)
	for _, c := range []struct{ name, grid, ground, rule, from string }{
		{"geometric mean", gridPolygon, "speckled", "rule: geometric mean", "0.6"},
		{"mean on a grid of its own", gridLaea, "striped", "rule: mean", "0.6"},
	} {
		t.Run(c.name, func(t *testing.T) {
			plan := writePlan(t, dir, wholeTextOf(shapePlan, c.grid, c.ground, c.rule, c.from))
			want := runFor(t, plan, Options{Threads: 1, Memory: 1 << 30})
			holdsMuch(t, want)
			for _, o := range ways(false) {
				got := runFor(t, plan, o)
				for name := range want {
					if !bytes.Equal(got[name], want[name]) {
						t.Errorf("%d threads, tile %d, %d MB: %s differs%s", o.Threads, o.Tile, o.Memory>>20, name, firstOdds(got[name], want[name]))
					}
				}
			}
		})
	}
}
