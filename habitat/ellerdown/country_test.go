package ellerdown

import (
	"math"
	"testing"

	"likelyground/raster"
)

func TestNoiseIsSmoothAndKeepsItsRange(t *testing.T) {
	const step = 1e-4
	low, high := 0.0, 0.0
	for k := range 40_000 {
		x, y := float64(k%200)*0.173-17, float64(k/200)*0.119-9
		n := noise(x, y, 5)
		low, high = min(low, n), max(high, n)
		if d := math.Abs(noise(x+step, y, 5) - n); d > 6*step {
			t.Fatalf("a jump of %v at %v, %v", d, x, y)
		}
	}
	if low < -1.1 || high > 1.1 || low > -0.7 || high < 0.7 {
		t.Errorf("from %v to %v, want about -1 to 1", low, high)
	}
	if n := noise(3, -7, 5); n != 0 {
		t.Errorf("%v at a lattice point, want 0", n)
	}
}

// The drawing may not change unnoticed: demonstration, README and
// benchmarks speak of this country. Values are those of this code.
func TestTheCountryStaysTheSame(t *testing.T) {
	if h := scramble(-3, 8, 41); h != 0x7ebdc569 {
		t.Errorf("scramble: %#x", h)
	}
	for _, c := range []struct {
		x, y, height float64
		rock         Rock
		cover        Cover
	}{
		{475_000, 6_128_000, 84.57893930116691, Shale, OakWood},
		{472_340, 6_126_010, 189.4412482603961, Sandstone, Plantation},
		{477_777, 6_130_303, 91.64723699439081, Gritstone, Arable},
	} {
		s := spotAt(c.x, c.y)
		if got := s.coverAt(c.x, c.y, 0.1, 0); s.height != c.height || s.rock != c.rock || got != c.cover {
			t.Errorf("at %v, %v: %v, %v (%d), %v", c.x, c.y, s.height, s.rock, s.rock, got)
		}
	}
}

func TestBendWeightsAreASpline(t *testing.T) {
	for k, w := range bend {
		at := (float64(k) + 0.5) / perNode
		if sum := w[0] + w[1] + w[2] + w[3]; math.Abs(sum-1) > 1e-15 {
			t.Errorf("weights %v sum to %v", w, sum)
		}
		// A B-spline gives straight lines back.
		if got := -w[0] + w[2] + 2*w[3]; math.Abs(got-at) > 1e-15 {
			t.Errorf("weights %v put the cell at %v, want %v", w, got, at)
		}
	}
}

// A larger country holds a smaller one unchanged, and tiles meet without seam.
func TestHeightsHangOnTheirPlaceAlone(t *testing.T) {
	small, large := countryGrid(Size{400, 320}), countryGrid(Size{1200, 1040})
	a, b := raster.NewTile(small.Window()), raster.NewTile(raster.Window{Col: 360, Row: 340, Cols: 512, Rows: 400})
	if err := (&groundMap{grid: small}).draw(a); err != nil {
		t.Fatal(err)
	}
	if err := (&groundMap{grid: large}).draw(b); err != nil {
		t.Fatal(err)
	}
	shift := int((small.X0 - large.X0) / cellSide)
	down := int((large.Y0 - small.Y0) / cellSide)
	known := 0
	for row := range small.Rows - 20 {
		for col := range small.Cols {
			v, w := a.Value(col, row+20), float32(0)
			if b.Holds(raster.Window{Col: col + shift, Row: row + 20 + down, Cols: 1, Rows: 1}) {
				w = b.Value(col+shift, row+20+down)
			}
			if v != v || w != w || w == 0 {
				continue
			}
			known++
			if v != w {
				t.Fatalf("cell %d, %d: %v in the small country, %v in the large", col, row, v, w)
			}
		}
	}
	if known < 50_000 {
		t.Errorf("only %d cells were compared", known)
	}
}

// What a naturalist would look for first.
func TestTheCountryIsLikeOne(t *testing.T) {
	type pair struct{ sum, n float64 }
	ph, heights := map[Rock]*pair{}, map[Cover]*pair{}
	add := func(p *pair, v float64) { p.sum += v; p.n++ }
	for r := range rocks {
		ph[r] = &pair{}
	}
	for _, c := range coverTable {
		heights[c.Cover] = &pair{}
	}
	b, cells := boxOf(countryGrid(Size{2000, 2000})), 0.0
	for x := b.west; x < b.east; x += 90 {
		for y := b.south; y < b.north; y += 90 {
			s := spotAt(x, y)
			c := s.coverAt(x, y, rise(s.height, heightAt(x+40, y), heightAt(x, y-40), heightAt(x+40, y-40)), 0)
			if heights[c] == nil {
				t.Fatalf("cover %d has no name", c)
			}
			add(heights[c], s.height)
			add(ph[s.rock], s.soilAt(x, y, c))
			cells++
		}
	}
	mean := func(p *pair) float64 { return p.sum / p.n }
	if !(mean(ph[PlateauSand]) < mean(ph[Shale]) && mean(ph[Shale]) < mean(ph[Limestone])) {
		t.Errorf("soil does not follow rock: %v %v %v", mean(ph[PlateauSand]), mean(ph[Shale]), mean(ph[Limestone]))
	}
	if !(mean(heights[Heath]) > mean(heights[BeechWood]) && mean(heights[BeechWood]) > mean(heights[Arable])) {
		t.Errorf("cover does not follow height: %v %v %v", mean(heights[Heath]), mean(heights[BeechWood]), mean(heights[Arable]))
	}
	for c, p := range heights {
		if c != BareGround && c != Bog && p.n/cells < 0.002 || p.n/cells > 0.5 {
			t.Errorf("cover %d takes %.4f of the ground", c, p.n/cells)
		}
	}
}

func BenchmarkGround(b *testing.B) {
	m := &groundMap{grid: countryGrid(Size{2048, 2048})}
	t := raster.NewTile(raster.Window{Cols: tileSide, Rows: tileSide})
	b.ReportAllocs()
	for b.Loop() {
		if err := m.draw(t); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(t.Size()), "ns/cell")
}

func BenchmarkCover(b *testing.B) {
	at, err := place(boxOf(countryGrid(Size{4096, 4096})), "EPSG:3035", 20)
	if err != nil {
		b.Fatal(err)
	}
	r, err := at.lattice.Reader()
	if err != nil {
		b.Fatal(err)
	}
	m := &coverMap{placed: at, reader: r}
	defer m.close()
	t := raster.NewClassTile(raster.Window{Col: 512, Row: 512, Cols: tileSide, Rows: tileSide})
	b.ReportAllocs()
	for b.Loop() {
		if err := m.draw(t); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(t.Size()), "ns/cell")
}
