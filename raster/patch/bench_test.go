package patch

import (
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

// clustered returns scores of which some 5 % are members, in clumps of about
// ten cells, on a background of noise below the threshold.
func clustered(side int) raster.Tile {
	r := rand.New(rand.NewPCG(11, 12))
	t := raster.NewTile(raster.Window{Cols: side, Rows: side})
	for i := range t.Values {
		t.Values[i] = float32(r.IntN(8192)) / ScoreUnit
	}
	for range side * side / 200 {
		col, row := r.IntN(side), r.IntN(side)
		w := raster.Window{Col: col, Row: row, Cols: 1 + r.IntN(6), Rows: 1 + r.IntN(5)}.Clip(t.Window)
		for k := range w.Size() {
			t.Values[t.Index(w.Col+k%w.Cols, w.Row+k/w.Cols)] = float32(8192+r.IntN(8193)) / ScoreUnit
		}
	}
	return t
}

func benchmarkSurvey(b *testing.B, score raster.Tile, rule Rule) {
	factors := make([]raster.Tile, 6)
	for i := range factors {
		factors[i] = score
	}
	store, err := NewStore(b.TempDir(), rule)
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	s := NewSurveyor(rule, flat{})
	b.ReportAllocs()
	for b.Loop() {
		sum, err := s.Survey(score, factors)
		if err != nil {
			b.Fatal(err)
		}
		if err := store.Put(sum); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(score.Size()), "ns/cell")
	b.ReportMetric(float64(store.end)/float64(b.N), "B/tile")
}

// flat gives all cells one area.
type flat struct{}

func (flat) Row(col, cols, row int, out []int64) {
	for i := range out[:cols] {
		out[i] = 100_000_000
	}
}

func BenchmarkSurveyClumps(b *testing.B) {
	benchmarkSurvey(b, clustered(512), Rule{From: 0.5, Least: 50 * 100_000_000})
}

func BenchmarkSurveyNone(b *testing.B) { benchmarkSurvey(b, clustered(512), Rule{From: 2}) }

func BenchmarkSurveyAll(b *testing.B) { benchmarkSurvey(b, clustered(512), Rule{From: 0}) }

// BenchmarkTraceGiant draws one patch of 62 % of a noisy grid of 1024 x 1024
// cells: as many runs, corners and holes as there can be.
func BenchmarkTraceGiant(b *testing.B) {
	f := random(rand.New(rand.NewPCG(4, 4)), raster.Window{Cols: 1024, Rows: 1024}, 0.68, 0)
	s := solve(b, f, Rule{From: 0.5, Least: 1e13}, 512, 512)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Trace(&s.Patches[0]); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(s.Patches[0].Cells), "ns/cell")
}

// BenchmarkSolve joins 64 tiles of 256 x 256 cells with a tenth of members.
func BenchmarkSolve(b *testing.B) {
	f := random(rand.New(rand.NewPCG(4, 4)), raster.Window{Cols: 2048, Rows: 2048}, 0.1, 0)
	s := solve(b, f, Rule{From: 0.5, Least: 5e8}, 256, 256)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.store.Solve(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/2048/2048, "ns/cell")
}
