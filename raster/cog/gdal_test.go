package cog

import (
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// fileCase is one file that GDAL reads back.
type fileCase struct {
	name   string
	layout Layout
	ground ground
	side   int
}

var overviewNames = map[Overview]string{Average: "average", Nearest: "nearest", Mode: "mode"}

func floatCase(cols, rows, bands, side int) fileCase {
	return fileCase{
		fmt.Sprintf("%dx%d, %d bands", cols, rows, bands),
		Layout{Grid: gridOf(cols, rows), Geo: utm31, Bands: bandsOf(bands), Nodata: ptr(math.NaN())},
		ground{Float32, true}, side,
	}
}

func (c fileCase) with(name string, change func(*fileCase)) fileCase {
	c.name += ", " + name
	change(&c)
	return c
}

func fileCases() []fileCase {
	out := []fileCase{}
	for _, size := range [][2]int{{1, 1}, {300, 200}, {512, 512}, {513, 1025}, {2000, 1500}} {
		out = append(out, floatCase(size[0], size[1], 1, 512), floatCase(size[0], size[1], 3, 300))
	}
	odd, flat := floatCase(1025, 513, 2, 512), floatCase(1, 1700, 1, 512)
	codes := func(s Sample, o Overview, nodata float64) func(*fileCase) {
		return func(c *fileCase) {
			c.layout.Sample, c.ground.sample, c.layout.Overview = s, s, o
			c.layout.Nodata = ptr(nodata)
		}
	}
	return append(out, odd, flat,
		odd.with("zstd", func(c *fileCase) { c.layout.Compression = Zstd }),
		odd.with("zstd 12", func(c *fileCase) { c.layout.Compression, c.layout.Level = Zstd, 12 }),
		odd.with("deflate 1", func(c *fileCase) { c.layout.Level = 1 }),
		odd.with("deflate 9", func(c *fileCase) { c.layout.Level = 9 }),
		odd.with("BigTIFF", func(c *fileCase) { c.layout.big = true }),
		floatCase(1, 1, 1, 1).with("BigTIFF", func(c *fileCase) { c.layout.big = true }),
		odd.with("nodata -9999", func(c *fileCase) { c.layout.Nodata = ptr(-9999) }),
		odd.with("no nodata", func(c *fileCase) { c.layout.Nodata, c.ground.holes = nil, false }),
		odd.with("nearest", func(c *fileCase) { c.layout.Overview = Nearest }),
		odd.with("mode", func(c *fileCase) { c.layout.Overview = Mode }),
		odd.with("blocks of 64", func(c *fileCase) { c.layout.Block = 64 }),
		odd.with("Int16 average", codes(Int16, Average, -32768)),
		odd.with("Int16 mode", codes(Int16, Mode, 32767)),
		odd.with("Int16 zstd", func(c *fileCase) {
			codes(Int16, Nearest, -32768)(c)
			c.layout.Compression = Zstd
		}),
		odd.with("Byte mode", codes(Byte, Mode, 255)),
		odd.with("Byte average", codes(Byte, Average, 255)),
		odd.with("Byte nearest, BigTIFF", func(c *fileCase) {
			codes(Byte, Nearest, 255)(c)
			c.layout.big = true
		}),
	)
}

// Source: GDAL and its own validator of Cloud-Optimized GeoTIFFs read the
// files; numpy makes the overviews and statistics again.
func TestGDALReadsWhatWasPut(t *testing.T) {
	dir := t.TempDir()
	cases := fileCases()
	jobs := make([]job, len(cases))
	for i, c := range cases {
		name := filepath.Join(dir, strconv.Itoa(i))
		jobs[i] = job{name + ".tif", name + ".cells", overviewNames[c.layout.Overview]}
		if err := os.WriteFile(jobs[i].Path, file(t, c.layout, c.ground, way{side: c.side, workers: 2}), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for i, a := range ask(t, jobs...) {
		t.Run(cases[i].name, func(t *testing.T) {
			checkStructure(t, cases[i], a, filepath.Base(jobs[i].Path))
			for b := range a.Bands {
				checkBand(t, cases[i], b, a.Bands[b])
			}
			checkCells(t, cases[i], readDump(t, jobs[i].Dump, cases[i].layout.Sample))
		})
	}
	if side, _ := filepath.Glob(filepath.Join(dir, "*.xml")); len(side) > 0 {
		t.Errorf("reading made side files: %v", side)
	}
}

func checkStructure(t *testing.T, c fileCase, a account, name string) {
	t.Helper()
	l := c.layout
	if len(a.Errors) > 0 || len(a.Warnings) > 0 {
		t.Errorf("the validator says: %v %v", a.Errors, a.Warnings)
	}
	if !slices.Equal(a.Size, []int{l.Grid.Cols, l.Grid.Rows}) || len(a.Bands) != len(l.Bands) {
		t.Errorf("size %v, %d bands", a.Size, len(a.Bands))
	}
	if !slices.Equal(a.Transform, []float64{300000, 10, 0, 6400000, 0, -12.5}) || a.CRS != "25831" {
		t.Errorf("lies at %v of CRS %q", a.Transform, a.CRS)
	}
	if a.Structure["LAYOUT"] != "COG" || a.Structure["COMPRESSION"] != map[Compression]string{Deflate: "DEFLATE", Zstd: "ZSTD"}[l.Compression] {
		t.Errorf("structure %v", a.Structure)
	}
	if len(l.Bands) > 1 && a.Structure["INTERLEAVE"] != "BAND" {
		t.Errorf("structure %v", a.Structure)
	}
	if !slices.Equal(a.Files, []string{name}) {
		t.Errorf("files %v", a.Files)
	}
}

func checkBand(t *testing.T, c fileCase, b int, a bandAccount) {
	t.Helper()
	l, err := c.layout.normal()
	if err != nil {
		t.Fatal(err)
	}
	if a.Description != l.Bands[b].Description || a.Unit != l.Bands[b].Unit || a.Type != [...]string{"Float32", "Int16", "Byte"}[l.Sample] {
		t.Errorf("band %d: %+v", b, a)
	}
	if want := wantNodata(l); (a.Nodata == nil) != (want == "") || a.Nodata != nil && *a.Nodata != want {
		t.Errorf("band %d: nodata %v, want %q", b, a.Nodata, want)
	}
	if !slices.Equal(a.Block, []int{l.Block, l.Block}) {
		t.Errorf("band %d: blocks of %v", b, a.Block)
	}
	levels := l.levels()
	if len(a.Overviews) != len(levels)-1 {
		t.Errorf("band %d: overviews %v", b, a.Overviews)
	}
	for k, wrong := range a.Wrong {
		if v := levels[k+1]; wrong != 0 || !slices.Equal(a.Overviews[k], []int{v.cols, v.rows}) {
			t.Errorf("band %d, overview %v: %d cells are not what numpy makes", b, a.Overviews[k], wrong)
		}
	}
	checkStatistics(t, a, l.Grid.Cells())
}

// wantNodata is the nodata value as Python prints it.
func wantNodata(l Layout) string {
	switch {
	case l.Nodata == nil:
		return ""
	case math.IsNaN(*l.Nodata):
		return "nan"
	}
	return strconv.FormatFloat(*l.Nodata, 'f', 1, 64)
}

func checkStatistics(t *testing.T, a bandAccount, cells int64) {
	t.Helper()
	names := []string{"STATISTICS_MINIMUM", "STATISTICS_MAXIMUM", "STATISTICS_MEAN", "STATISTICS_STDDEV"}
	for i, want := range a.Stats {
		got, err := strconv.ParseFloat(a.Metadata[names[i]], 64)
		if err != nil || math.Abs(got-want) > 1e-11*math.Max(1, math.Abs(want)) || i < 2 && got != want {
			t.Errorf("%s is %q, numpy says %v", names[i], a.Metadata[names[i]], want)
		}
	}
	if len(a.Stats) == 0 && len(a.Metadata) != 1 {
		t.Errorf("statistics of no cell: %v", a.Metadata)
	}
	got, err := strconv.ParseFloat(a.Metadata["STATISTICS_VALID_PERCENT"], 64)
	if want := 100 * float64(a.Known) / float64(cells); err != nil || math.Abs(got-want) > 1e-9 {
		t.Errorf("valid percent %q, want %v", a.Metadata["STATISTICS_VALID_PERCENT"], want)
	}
}

func checkCells(t *testing.T, c fileCase, got []float64) {
	t.Helper()
	g := c.layout.Grid
	if len(got) != g.Cols*g.Rows*len(c.layout.Bands) {
		t.Fatalf("%d cells read", len(got))
	}
	for i, v := range got {
		band, row, col := i/(g.Cols*g.Rows), i/g.Cols%g.Rows, i%g.Cols
		want, known := c.ground.cell(band, col, row)
		if !known {
			want = *c.layout.Nodata
		}
		if v != want && !(v != v && want != want) {
			t.Fatalf("band %d, cell (%d, %d) reads %v, want %v", band, col, row, v, want)
		}
	}
}

func TestGDALReadsWords(t *testing.T) {
	nasty := `sand & <clay> "5 µm" 'fine' &lt; &amp;amp; &#65; é`
	l := Layout{
		Grid: gridOf(40, 30), Geo: utm31, Nodata: ptr(math.NaN()),
		Bands:    []Band{{Description: nasty, Unit: "°", Scale: 0.1, Offset: -3}, {Description: "no cell known"}, {Unit: "m²", Offset: 7}},
		Metadata: map[string]string{"TITLE": nasty, "CREDIT": "two\nlines", "EMPTY": ""},
	}
	w := create(t, l)
	e := w.Encoder()
	for b := range l.Bands {
		tile := ground{Float32, true}.tile(b, l.Grid.Window())
		if b == 1 {
			tile.FillMissing()
		}
		if err := e.Put(b, tile); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(t.TempDir(), "words.tif")
	if err := os.WriteFile(path, finish(t, w), 0o600); err != nil {
		t.Fatal(err)
	}
	a := ask(t, job{path, "", "average"})[0]
	delete(a.Metadata, "AREA_OR_POINT")
	delete(l.Metadata, "EMPTY")
	if !maps.Equal(a.Metadata, l.Metadata) {
		t.Errorf("metadata %q, want %q", a.Metadata, l.Metadata)
	}
	for b, want := range l.Bands {
		got := a.Bands[b]
		if got.Description != want.Description || got.Unit != want.Unit {
			t.Errorf("band %d reads %+v", b, got)
		}
		checkStatistics(t, got, l.Grid.Cells())
	}
	if s, o := a.Bands[0].Scale, a.Bands[0].Offset; s == nil || o == nil || *s != 0.1 || *o != -3 {
		t.Errorf("scale and offset %v %v", s, o)
	}
	if s, o := a.Bands[2].Scale, a.Bands[2].Offset; s == nil || o == nil || *s != 1 || *o != 7 {
		t.Errorf("scale and offset %v %v", s, o)
	}
	if a.Bands[1].Known != 0 {
		t.Errorf("the band without a known cell has %d", a.Bands[1].Known)
	}
}
