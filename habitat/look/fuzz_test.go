package look

import (
	"encoding/binary"
	"math"
	"strings"
	"testing"

	"likelyground/habitat/plan"
	"likelyground/raster/maps"
)

// FuzzValues: whatever numbers a band holds, they are summed up in few steps,
// whose shares make one, or told as classes.
func FuzzValues(f *testing.F) {
	of := func(xs ...float64) (out []byte) {
		for _, x := range xs {
			out = binary.LittleEndian.AppendUint64(out, math.Float64bits(x))
		}
		return out
	}
	f.Add(of(1, 2, 3), 1.0, 0.0)
	f.Add(of(-1e308, 1e308), 1e10, 0.0)
	f.Add(of(math.Inf(1), math.Inf(-1), 5e-324, 0), 0.1, -1.0)
	f.Add(of(-9999, 0, 255, 32767, 65535, 3.4e38), 0.0, 0.0)
	f.Fuzz(func(t *testing.T, data []byte, scale, offset float64) {
		var known []float64
		for ; len(data) >= 8; data = data[8:] {
			if x := math.Float64frombits(binary.LittleEndian.Uint64(data)); x == x {
				known = append(known, x)
			}
		}
		all := steps(known)
		band := &maps.InspectedBand{Low: 0, High: 255, Whole: len(data)%2 == 0}
		odd := standIns(all, band, false)
		sound := without(all, odd)
		if total(all) != len(known) || len(sound)+len(odd) != len(all) {
			t.Errorf("%d numbers, %d odd, %d sound", len(known), len(odd), len(sound))
		}
		few(all)
		classes(all, nil)
		v := values(sound, odd, scale, offset)
		if v == nil {
			return
		}
		sum := 0.0
		for _, b := range v.Histogram {
			sum += b.Share
		}
		if n := len(v.Histogram); n > 2*mostBins || math.Abs(sum-1) > 1e-3 {
			t.Errorf("%d bins of %v together", n, sum)
		}
	})
}

// FuzzScalar: any name that a map brings is written so that a plan reads it
// back, or refuses it in words.
func FuzzScalar(f *testing.F) {
	for _, seed := range []string{"rock", "a: b", "- x", "#", "yes", "1e3", "\"'", "\x1b[31m", "null", "&a *b", "é\u202e", "~", "{", "a\nb"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, name string) {
		text := Scalar(name)
		if strings.ContainsAny(text, "\n\x1b") {
			t.Errorf("%q is written as %q", name, text)
		}
		p, err := plan.Read("p.yaml", []byte("format: 1\ngrid: {like: g}\nmaps:\n  g: {file: a.tif, unit: m}\n  f: {file: b.gpkg, field: "+text+"}\nfactors:\n  x: {from: g, curve: {0: 0, 1: 1}}\n  y: {from: f, scores: {a: 1}, others: 0}\n"))
		want := strings.TrimRight(name, "\n") // a plan takes line ends off
		if err == nil && p.Maps[1].Field != want && p.Maps[0].Field != want {
			t.Errorf("%q is read back as %q or %q", name, p.Maps[0].Field, p.Maps[1].Field)
		}
		if err != nil && strings.Contains(err.Error(), "p.yaml:7") {
			t.Errorf("%q spoils the lines below: %v", name, err)
		}
	})
}
