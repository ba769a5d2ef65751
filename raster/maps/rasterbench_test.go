package maps

import (
	"syscall"
	"testing"
	"time"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// benchmarkRead reads a grid of 2048 × 2048 cells in tiles of 512.
func benchmarkRead(b *testing.B, f fixture, spec RasterSpec, g raster.Grid) {
	spec.Files = []string{f.make(b, "a.tif")}
	r := open(b, spec, g)
	reader, err := r.Reader()
	must(b, err)
	defer reader.Close()
	tile := r.tile(raster.Window{Cols: 512, Rows: 512})
	b.ReportAllocs()
	before := cpuTime(b)
	for b.Loop() {
		for row := 0; row < g.Rows; row += 512 {
			for col := 0; col < g.Cols; col += 512 {
				tile.Window = raster.Window{Col: col, Row: row, Cols: 512, Rows: 512}
				must(b, reader.Read(tile, nil))
			}
		}
	}
	b.ReportMetric(float64((cpuTime(b)-before).Nanoseconds())/float64(b.N)/float64(g.Cells()), "cpu-ns/cell")
	if n := r.Judge(); n.Known == 0 {
		b.Fatal("nothing was read")
	}
}

// cpuTime is the processor time of the process: what others do on the machine
// does not count.
func cpuTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	must(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

var tiled = []string{"TILED=YES"}

func BenchmarkSameLattice(b *testing.B) {
	f := sameCRS(10, 2060, 2060, hills)
	f.options = tiled
	benchmarkRead(b, f, RasterSpec{Elevation: true}, metricGrid(2048, 2048, 10))
}

func BenchmarkRefineFromDegrees(b *testing.B) {
	f := geographic(hills)
	f.affine, f.cols, f.rows, f.kind, f.options = [6]float64{2.98, 1. / 400, 0, 55.96, 0, -1. / 400}, 200, 160, godal.Int16, tiled
	benchmarkRead(b, f, RasterSpec{Scale: ptr(0.1)}, metricGrid(2048, 2048, 10))
}

func BenchmarkClassesFromLAEA(b *testing.B) {
	f := fixture{crs: "EPSG:3035", affine: [6]float64{3870000, 10, 0, 3690000, 0, -10}, cols: 4000, rows: 4000, kind: godal.Byte, options: tiled,
		values: func(c, r int) float64 { return float64(1 + (c/30+r/20*7)%44) }}
	benchmarkRead(b, f, RasterSpec{Classes: true}, metricGrid(2048, 2048, 10))
}

func BenchmarkCoarsenFourTimes(b *testing.B) {
	f := sameCRS(2.5, 8400, 8400, func(c, r int) float64 { return float64(c + r) })
	f.options = tiled
	benchmarkRead(b, f, RasterSpec{}, metricGrid(2048, 2048, 10))
}

func BenchmarkClassesCoarsenTwice(b *testing.B) {
	f := sameCRS(5, 4200, 4200, func(c, r int) float64 { return float64((c/30 + r/20*7) % 44) })
	f.options, f.kind = tiled, godal.Byte
	benchmarkRead(b, f, RasterSpec{Classes: true}, metricGrid(2048, 2048, 10))
}
