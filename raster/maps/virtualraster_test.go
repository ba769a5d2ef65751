package maps

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster"
)

// vrt is a virtual raster over the ground of sameCRS(10, 30, 30, …).
func vrt(band string) string {
	return `<VRTDataset rasterXSize="30" rasterYSize="30"><SRS>EPSG:25831</SRS>
<GeoTransform>499990, 10, 0, 6200010, 0, -10</GeoTransform>` + band + `</VRTDataset>`
}

func simpleSource(attributes, name string) string {
	return fmt.Sprintf(`<VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename %s>%s</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand>`, attributes, name)
}

func TestVirtualRasters(t *testing.T) {
	dir, g := t.TempDir(), metricGrid(20, 20, 10)
	inside := filepath.Join(dir, "maps")
	must(t, os.MkdirAll(filepath.Join(inside, "tiles"), 0o755))
	f := sameCRS(10, 30, 30, hills)
	f.write(t, filepath.Join(inside, "tiles", "a.tif"))
	f.write(t, filepath.Join(dir, "secret.tif"))
	write := func(text string) []string {
		path := filepath.Join(inside, "all.vrt")
		must(t, os.WriteFile(path, []byte(text), 0o644))
		return []string{path}
	}
	const rel = `relativeToVRT="1"`

	r := open(t, RasterSpec{Files: write(vrt(simpleSource(rel, "tiles/a.tif")))}, g)
	want := read(t, open(t, RasterSpec{Files: []string{filepath.Join(inside, "tiles", "a.tif")}}, g))
	sameTile(t, "a plain mosaic", read(t, r), want)
	if files := r.Files(); len(files) != 2 || files[1] != filepath.Join(inside, "tiles", "a.tif") {
		t.Errorf("files %q", files)
	}

	secret := filepath.Join(dir, "secret.tif")
	for name, text := range map[string]string{
		"a way out":          vrt(simpleSource(rel, "../secret.tif")),
		"an absolute way":    vrt(simpleSource(``, secret)),
		"another case":       strings.ReplaceAll(vrt(simpleSource(`RELATIVETOVRT="1"`, "../secret.tif")), "SourceFilename", "sourcefilename"),
		"in an attribute":    vrt(`<VRTRasterBand dataType="Float32" band="1"><SimpleSource SourceFilename="` + secret + `"/></VRTRasterBand>`),
		"an address":         vrt(simpleSource(``, "/vsicurl/http://127.0.0.1/a.tif")),
		"through the parser": vrt(simpleSource(rel, "&#46;&#46;/secret.tif")),
		"the warp's options": `<VRTDataset subClass="VRTWarpedDataset"><GDALWarpOptions><SourceDataset relativeToVRT="1">../secret.tif</SourceDataset></GDALWarpOptions></VRTDataset>`,
	} {
		refused(t, RasterSpec{Files: write(text)}, g, "outside its own folder", "name the files")
		if t.Failed() {
			t.Fatalf("failed for %s", name)
		}
	}
	for _, band := range []string{
		`<VRTRasterBand subClass="VRTRawRasterBand"><SourceFilename relativeToVRT="1">tiles/a.tif</SourceFilename></VRTRasterBand>`,
		`<VRTRasterBand subclass="vrtderivedrasterband"></VRTRasterBand>`,
		`<VRTRasterBand><PixelFunctionCode>import os</PixelFunctionCode></VRTRasterBand>`,
		`<VRTRasterBand PixelFunctionType="sum"></VRTRasterBand>`,
		`<VRTRasterBand><ImageOffset>0</ImageOffset></VRTRasterBand>`,
	} {
		refused(t, RasterSpec{Files: write(vrt(band))}, g, "the virtual raster", "name the files")
	}
	refused(t, RasterSpec{Files: write(vrt(simpleSource(rel, "tiles/b.tif")))}, g, "no such file, but", "did you mean a.tif?")
	open(t, RasterSpec{Files: append(write(vrt(simpleSource(rel, "../secret.tif"))), secret)}, g) // the plan names it

	// Whatever it is called, and one level down.
	hidden := filepath.Join(inside, "tiles", "b.tif")
	must(t, os.WriteFile(hidden, []byte(vrt(simpleSource(rel, "../../secret.tif"))), 0o644))
	refused(t, RasterSpec{Files: []string{hidden}}, g, "outside its own folder", "")
	refused(t, RasterSpec{Files: write(vrt(simpleSource(rel, "tiles/b.tif")))}, g, "outside its own folder", "")
}

// FuzzVirtualRaster looks for texts that get past the look-through and make
// GDAL show the cells of a file outside the folder.
func FuzzVirtualRaster(f *testing.F) {
	dir := f.TempDir()
	inside := filepath.Join(dir, "maps")
	must(f, os.MkdirAll(inside, 0o755))
	secret := sameCRS(10, 30, 30, func(c, r int) float64 { return 77 })
	secret.write(f, filepath.Join(dir, "secret.tif"))
	f.Add(vrt(simpleSource(`relativeToVRT="1"`, "../secret.tif")))
	f.Add(vrt(`<VRTRasterBand subClass="VRTRawRasterBand"><SourceFilename relativeToVRT="1">../secret.tif</SourceFilename></VRTRasterBand>`))
	f.Add(vrt(`<VRTRasterBand><SimpleSource><SourceFilename>x<relativeToVRT>1</relativeToVRT></SourceFilename></SimpleSource></VRTRasterBand>`))
	g := metricGrid(20, 20, 10)
	f.Fuzz(func(t *testing.T, text string) {
		path := filepath.Join(inside, "all.vrt")
		must(t, os.WriteFile(path, []byte(text), 0o644))
		r, err := OpenRaster(RasterSpec{Files: []string{path}, Band: 1}, g)
		if err != nil {
			return
		}
		reader, err := r.Reader()
		must(t, err)
		defer reader.Close()
		dst := raster.NewTile(g.Window())
		if err := reader.Read(dst, nil); err == nil && dst.Values[0] == 77 {
			t.Errorf("the cells of a file outside were read through\n%s", text)
		}
	})
}
