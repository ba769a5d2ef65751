package vector

import (
	"os"
	"path/filepath"
	"testing"
)

// FuzzFileHeads: the checks of what the library passes over take any bytes
// under any ending, and end in nil or a [Problem].
func FuzzFileHeads(f *testing.F) {
	f.Add([]byte("\x00\x00\x27\x0a"), []byte("\x03"), byte(0))
	f.Add([]byte(`{"crs":{"type":"link"}}`), []byte{}, byte(1))
	f.Add([]byte("SQLite format 3\x00\x10\x00\x02\x02"), []byte("x"), byte(2))
	f.Add([]byte("SQLite format 3\x00\x10\x00\x01\x01"), []byte(hotJournal), byte(3))
	dir := f.TempDir()
	endings := [][2]string{{".shp", ".dbf"}, {".geojson", ""}, {".gpkg", ".gpkg-wal"}, {".gpkg", ".gpkg-journal"}}
	f.Fuzz(func(t *testing.T, data, beside []byte, kind byte) {
		ends := endings[int(kind)%len(endings)]
		l := &Layer{File: filepath.Join(dir, "a"+ends[0])}
		for path, bytes := range map[string][]byte{l.File: data, filepath.Join(dir, "a"+ends[1]): beside} {
			if err := os.WriteFile(path, bytes, 0o600); err != nil {
				t.Fatal(err)
			}
			defer os.Remove(path)
		}
		info, err := os.Stat(l.File)
		if err != nil {
			t.Fatal(err)
		}
		if err := l.checkBytes(info); err != nil {
			if _, ok := err.(*Problem); !ok {
				t.Errorf("%T: %v", err, err)
			}
		}
		WriteAhead(l.File)
	})
}

// FuzzTangled: any outline is judged without a panic.
func FuzzTangled(f *testing.F) {
	f.Add([]byte("0123456789"))
	f.Fuzz(func(t *testing.T, data []byte) {
		ring := make(Ring, len(data)/2)
		for i := range ring {
			ring[i] = Point{float64(int8(data[2*i])), float64(int8(data[2*i+1]))}
		}
		var x tangler
		if x.tangled([]Polygon{{ring}}, len(data)*len(data)) {
			t.Error("more pairs than there are")
		}
		x.tangled([]Polygon{{ring}}, len(data)/4)
	})
}
