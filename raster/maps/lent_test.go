package maps

import (
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"

	"likelyground/raster"
)

// memory lends bytes, up to a point.
type memory struct {
	*bytes.Reader
	upTo    int64
	trouble error
}

var errBeyond = errors.New("beyond what is lent")

func (m *memory) ReadAt(p []byte, off int64) (int, error) {
	if off+int64(len(p)) > m.upTo && m.upTo < m.Size() {
		m.trouble = errBeyond
		return 0, errBeyond
	}
	return m.Reader.ReadAt(p, off)
}

func (m *memory) Trouble() error { return m.trouble }

// A lent file is read as a file is, without side files; what its lender says
// is what is told.
func TestLentFile(t *testing.T) {
	f := sameCRS(10, 300, 300, func(c, r int) float64 { return float64(100*r + c) })
	data, err := os.ReadFile(f.make(t, "a.tif"))
	must(t, err)
	must(t, os.WriteFile(t.TempDir()+"/a.tif.aux.xml", []byte("<PAMDataset/>"), 0o666))
	m := &memory{Reader: bytes.NewReader(data), upTo: int64(len(data))}
	path, giveBack, err := Lend("a.tif", m)
	must(t, err)
	g := metricGrid(200, 200, 10)
	plain, lentMap := open(t, RasterSpec{Files: []string{f.make(t, "b.tif")}}, g), open(t, RasterSpec{Name: "soil", Files: []string{path}}, g)
	if files := lentMap.Files(); len(files) != 1 || files[0] != path {
		t.Errorf("files %q", files)
	}
	a, b := read(t, plain), read(t, lentMap)
	for i := range a.Values {
		if a.Values[i] != b.Values[i] {
			t.Fatalf("cell %d: %v and %v", i, a.Values[i], b.Values[i])
		}
	}
	must(t, lentMap.Unchanged())
	if in, err := Inspect(path); err != nil || in.Cols != 300 || len(in.Files) != 1 {
		t.Errorf("%+v, %v", in, err)
	}

	m.upTo = int64(len(data) / 2)
	half, giveHalf, err := Lend("a.tif", m)
	must(t, err)
	defer giveHalf()
	r, err := OpenRaster(RasterSpec{Name: "soil", Files: []string{half}}, g)
	if err == nil {
		var reader Reader
		reader, err = r.Reader()
		must(t, err)
		err = reader.Read(raster.NewTile(g.Window()), nil)
		must(t, reader.Close())
	}
	if !errors.Is(err, errBeyond) {
		t.Errorf("%v", err)
	}
	giveBack()
	if _, err := OpenRaster(RasterSpec{Files: []string{path}}, g); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("%v", err)
	}
	for _, other := range []string{"/likelyground-lent/9999/a.tif", "/likelyground-lent/../etc/passwd"} {
		if _, err := OpenRaster(RasterSpec{Files: []string{other}}, g); err == nil {
			t.Errorf("%s was opened", other)
		}
	}
}
