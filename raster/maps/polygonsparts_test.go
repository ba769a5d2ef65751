package maps

import (
	"fmt"
	"testing"

	"likelyground/raster"
)

// mixtureWords writes mixtures for comparison.
func mixtureWords(p *Polygons) string {
	out := ""
	for i, m := range p.Mixtures() {
		out += fmt.Sprintf("%d:", i)
		for _, part := range m.Parts {
			name := fmt.Sprint(part.Code)
			if !p.Numeric() {
				name = p.Classes()[part.Code]
			}
			out += fmt.Sprintf(" %s %d", name, part.Share)
		}
		out += "\n"
	}
	return out
}

// TestMixtures: each different mixture is a code of its own, whatever the
// order of its parts; the rest is the last part's where that has no share.
func TestMixtures(t *testing.T) {
	file := fielded(t,
		`"a":"sand","x":60,"b":"clay","y":40,"c":null`,
		`"a":"clay","x":40,"b":"sand","y":60,"c":null`,
		`"a":"sand","x":50,"b":"clay","y":20,"c":"peat"`,
		`"a":"sand","x":100,"b":" ","y":null,"c":null`,
		`"a":"sand","x":null,"b":null,"y":null,"c":null`, // the whole is left
		`"a":"sand","x":30,"b":"sand","y":20,"c":null`,   // half of it known
		`"a":"sand","x":49,"b":null,"y":null,"c":null`,   // less than half
		`"a":"sand","x":80,"b":"clay","y":22,"c":null`,   // 102 %
		`"a":"sand","x":80,"b":"clay","y":21,"c":null`,   // 101 %: rounded
		`"a":"sand","x":-1,"b":"clay","y":21,"c":null`,
		`"a":"sand","x":55,"b":"clay","y":null,"c":"peat"`, // two without a share
		`"a":null,"x":55,"b":"","y":45,"c":null`,
		`"a":"sand","x":0,"b":"clay","y":100,"c":"peat"`)
	g := plainGrid(28, 2)
	spec := PolygonSpec{Name: "soil", File: file, CRS: "EPSG:25831", Parts: []PartField{{"a", "x"}, {"b", "y"}, {"c", ""}}, WhereAbsent: "rock"}
	p := openDrawn(t, spec, g)
	want := `0: clay 1000000
1: rock 1000000
2: sand 1000000
3: sand 800000 clay 210000
4: sand 600000 clay 400000
5: sand 550000
6: sand 500000
7: sand 500000 peat 300000 clay 200000
`
	if got := mixtureWords(p); got != want {
		t.Errorf("mixtures\n%swant\n%s", got, want)
	}
	if got, want := picture(codesOf(t, p, raster.Window{Cols: 28, Rows: 1}, 5), 28), "444477222266----33--55--0011\n"; got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	f := p.Facts()
	if f.HalfUnknown != 1 || f.OddShares != 2 || f.NoShares != 1 || f.Unclassed != 1 || f.ShareUnit != SharePercent || !f.ShareGuessed {
		t.Errorf("facts %+v", f)
	}
}

// Codes stay numbers; shares up to 1 are fractions unless the spec says else.
func TestMixturesOfNumbers(t *testing.T) {
	file := fielded(t, `"a":7,"x":0.25,"b":-3,"y":0.75`, `"a":7,"x":1,"b":null,"y":null`, `"a":-99,"x":0.1,"b":7,"y":0.9`)
	spec := PolygonSpec{Name: "soil", File: file, CRS: "EPSG:25831", Parts: []PartField{{"a", "x"}, {"b", "y"}}, Missing: []Range{{-99, -99}}}
	p := openDrawn(t, spec, plainGrid(8, 2))
	if got, want := mixtureWords(p), "0: -3 750000 7 250000\n1: 7 1000000\n2: 7 900000\n"; got != want || !p.Numeric() {
		t.Errorf("mixtures\n%swant\n%s", got, want)
	}
	if got := picture(codesOf(t, p, raster.Window{Cols: 8, Rows: 1}, 3), 8); got != "001122--\n" {
		t.Errorf("got\n%s", got)
	}
	spec.ShareUnit = SharePercent
	p = openDrawn(t, spec, plainGrid(8, 2))
	if f := p.Facts(); len(p.Mixtures()) != 0 || p.Mixtures() == nil || f.HalfUnknown != 3 || f.ShareGuessed {
		t.Errorf("as percent: %q, facts %+v", mixtureWords(p), f)
	}
}

func ExampleMixture() {
	m := NewMixture([]Part{{Code: 4, Share: 300_000}, {Code: 2, Share: 500_000}, {Code: 4, Share: 100_000}})
	fmt.Println(m.Parts, m.Known(), m.Share(func(code int32) bool { return code == 4 }))
	// Output: [{2 500000} {4 400000}] 900000 0.4444444444444444
}
