package vector

import "testing"

func TestBrief(t *testing.T) {
	for said, want := range map[string]string{
		"VSIFReadL(0x4765a0b0): short":                           "VSIFReadL(): short",
		"./gcore/gdalrasterblock.cpp, 1108: cannot allocate":     "cannot allocate",
		"bad.tif, band 1: IReadBlock failed at X offset 0, 0x10": "bad.tif, band 1: IReadBlock failed at X offset 0, 0x10",
	} {
		if got := Brief(said); got != want {
			t.Errorf("%q becomes %q, want %q", said, got, want)
		}
	}
}
