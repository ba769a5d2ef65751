package unpack

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// packed is what goes into an archive of a test.
type packed struct{ name, text string }

var soil = []packed{
	{"read me.txt", "a map of soil"},
	{"soil/soil.tif", "cells"}, {"soil/soil.tif.aux.xml", "<x/>"}, {"soil/SOIL.TFW", "10"}, {"soil/soil.csv", "1,a"}, {"soil/soils.tif.ovr", "of another"},
	{"__MACOSX/soil/._soil.tif", "fork"},
}

func zipOf(t testing.TB, files []packed) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		to, err := w.Create(f.name)
		if err == nil {
			_, err = to.Write([]byte(f.text))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func tarOf(t testing.TB, files []packed) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, f := range files {
		err := w.WriteHeader(&tar.Header{Name: f.name, Mode: 0o644, Size: int64(len(f.text))})
		if err == nil {
			_, err = w.Write([]byte(f.text))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func gzipOf(t testing.TB, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// lay writes an archive to a folder of its own.
func lay(t testing.TB, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

// made lists the files below a folder.
func made(t testing.TB, dir string) []string {
	t.Helper()
	out := []string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			rel, _ := filepath.Rel(dir, path)
			out = append(out, rel)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestWays(t *testing.T) {
	tiles := []packed{{"part/b.tif", "b"}, {"part/a.tif", "a"}, {"part/a.prj", "p"}, {"c.asc", "c"}}
	shape := []packed{{"rock.shp", "s"}, {"rock.shx", "x"}, {"rock.dbf", "d"}, {"rock.prj", "p"}, {"notes.pdf", "n"}}
	virtual := []packed{{"v/all.vrt", "v"}, {"v/one/a.dat", "a"}, {"b.tif", "b"}}
	folder := []packed{{"geo/x.gdb/a00000001.gdbtable", "t"}, {"geo/x.gdb/gdb", "g"}}
	for _, c := range []struct {
		what  string
		files []packed
		asked string
		names []string
		made  []string
	}{
		{"the only map", soil, "", []string{"soil/soil.tif"}, []string{"soil/SOIL.TFW", "soil/soil.tif", "soil/soil.tif.aux.xml"}},
		{"the only one of a folder", tiles, ".", nil, nil},
		{"by its name", tiles, "part/a.tif", []string{"part/a.tif"}, []string{"part/a.prj", "part/a.tif"}},
		{"by a pattern", tiles, "part/*.tif", []string{"part/a.tif", "part/b.tif"}, []string{"part/a.prj", "part/a.tif", "part/b.tif"}},
		{"a shapefile", shape, "", []string{"rock.shp"}, []string{"rock.dbf", "rock.prj", "rock.shp", "rock.shx"}},
		{"a virtual raster", virtual, "v/all.vrt", []string{"v/all.vrt"}, []string{"v/all.vrt", "v/one/a.dat"}},
		{"a folder that is a map", folder, "", []string{"geo/x.gdb"}, []string{"geo/x.gdb/a00000001.gdbtable", "geo/x.gdb/gdb"}},
		{"a file of unknown ending", []packed{{"heights", "h"}}, "", []string{"heights"}, []string{"heights"}},
	} {
		for ending, data := range map[string][]byte{".zip": zipOf(t, c.files), ".tar": tarOf(t, c.files), ".tgz": gzipOf(t, tarOf(t, c.files))} {
			into := t.TempDir()
			names, err := Maps(context.Background(), lay(t, "maps"+ending, data), c.asked, into, Options{})
			if c.names == nil {
				if err == nil {
					t.Errorf("%s%s: nothing refused", c.what, ending)
				}
				continue
			}
			if err != nil || !slices.Equal(names, c.names) {
				t.Errorf("%s%s: %q, %v", c.what, ending, names, err)
			}
			if got := made(t, into); !slices.Equal(got, c.made) {
				t.Errorf("%s%s: made %q, want %q", c.what, ending, got, c.made)
			}
		}
	}
}

func TestGzippedFile(t *testing.T) {
	into := t.TempDir()
	names, err := Maps(context.Background(), lay(t, "N51W003.hgt.gz", gzipOf(t, []byte("heights"))), "", into, Options{})
	if err != nil || !slices.Equal(names, []string{"N51W003.hgt"}) {
		t.Fatal(names, err)
	}
	if data, err := os.ReadFile(filepath.Join(into, names[0])); string(data) != "heights" {
		t.Error(string(data), err)
	}
}

// Each way in which an archive or the way into it can be wrong.
func TestRefused(t *testing.T) {
	two := []packed{{"a.tif", "a"}, {"b.tif", "b"}}
	damaged := zipOf(t, []packed{{"a.tif", strings.Repeat("cells ", 1000)}})
	damaged[60] ^= 0xff
	short := gzipOf(t, []byte(strings.Repeat("cells ", 1000)))
	locked := zipOf(t, []packed{{"a.tif", "a"}})
	locked[6] |= 1                                           // the flag at the member
	locked[bytes.Index(locked, []byte("PK\x01\x02"))+8] |= 1 // and in the list
	for _, c := range []struct {
		name  string
		data  []byte
		asked string
		want  string
		fix   string
	}{
		{"m.zip", zipOf(t, two), "", "holds 2 maps", "m.zip/a.tif, m.zip/b.tif; or all of them as one map: m.zip/*.tif"},
		{"m.zip", zipOf(t, two), "c.tif", `holds no "c.tif"`, "m.zip/a.tif"},
		{"m.zip", zipOf(t, two), "*.asc", `matches "*.asc"`, "m.zip/a.tif"},
		{"m.zip", zipOf(t, []packed{{"a.pdf", "a"}, {"b.txt", "b"}}), "", "no map", "name the file within"},
		{"m.zip", []byte("<html>404</html>"), "", "no zip archive", "look what the file is"},
		{"m.zip", nil, "", "no zip archive", "look what the file is"},
		{"m.tar", []byte("<html>404</html>"), "", "no tar archive", "look what the file is"},
		{"m.tgz", []byte("<html>404</html>"), "", "no gzip archive", "look what the file is"},
		{"m.gz", []byte("x"), "", "no gzip archive", "look what the file is"},
		{"m.zip", damaged, "", "damaged or cut short", "fetch it again"},
		{"m.gz", short[:len(short)-9], "", "damaged or cut short", "fetch it again"},
		{"m.zip", locked, "", "locked with a password", "unpack it yourself"},
		{"m.zip", zipOf(t, []packed{{"a.tif", "a"}, {"a.tif", "b"}}), "", `two files "a.tif"`, "unpack it yourself"},
		{"m.zip", zipOf(t, []packed{{"../a.tif", "a"}, {"/b.tif", "b"}, {"c\\d.tif", "c"}, {"e\x1b.tif", "e"}}), "", "no map", ""},
		{"m.tar", tarOf(t, []packed{{"../../a.tif", "a"}}), "", "no map", ""},
	} {
		into := t.TempDir()
		_, err := Maps(context.Background(), lay(t, c.name, c.data), c.asked, into, Options{})
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(p.Error(), c.want) || !strings.Contains(p.Remedy(), c.fix) {
			t.Errorf("%s %q: %v", c.name, c.want, err)
		}
		if filepath.Dir(into) == "/" {
			t.Fatal(into)
		}
	}
}

// What an archive declares, and what it holds, are held against a bound.
func TestTraps(t *testing.T) {
	zeros := strings.Repeat("\x00", 4<<20)
	lying := zipOf(t, []packed{{"a.tif", zeros}})
	list := bytes.Index(lying, []byte("PK\x01\x02"))
	copy(lying[list+24:], []byte{10, 0, 0, 0}) // it declares ten bytes
	huge := bytes.Clone(lying)
	copy(huge[list+24:], []byte{0xfe, 0xff, 0xff, 0xff}) // or 4 GB
	for what, c := range map[string]struct {
		name string
		data []byte
		o    Options
		want string
	}{
		"declared":  {"m.zip", zipOf(t, []packed{{"a.tif", zeros}}), Options{Most: 1 << 20}, "looks like a trap"},
		"in a tar":  {"m.tgz", gzipOf(t, tarOf(t, []packed{{"a.tif", zeros}})), Options{Most: 1 << 20}, "looks like a trap"},
		"beside it": {"m.tgz", gzipOf(t, tarOf(t, []packed{{"x.bin", zeros}, {"a.tif", "a"}})), Options{Most: 1 << 20}, "looks like a trap"},
		"unsaid":    {"m.gz", gzipOf(t, []byte(zeros)), Options{Most: 1 << 20}, "looks like a trap"},
		"lying":     {"m.zip", lying, Options{}, "damaged or cut short"},
		"4 GB":      {"m.zip", huge, Options{}, "looks like a trap"},
	} {
		into := t.TempDir()
		_, err := Maps(context.Background(), lay(t, c.name, c.data), "", into, c.o)
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(p.Error(), c.want) {
			t.Errorf("%s: %v", what, err)
		}
		for _, f := range made(t, into) {
			if info, err := os.Stat(filepath.Join(into, f)); err != nil || info.Size() > 2<<20 {
				t.Errorf("%s: %s has grown to %d bytes", what, f, info.Size())
			}
		}
	}
}

// A list of members that would fill the memory is refused by what the end of
// the archive declares.
func TestLongList(t *testing.T) {
	data := zipOf(t, []packed{{"a.tif", "a"}})
	copy(data[len(data)-22+12:], []byte{0, 0, 0, 0x7f})
	_, err := Maps(context.Background(), lay(t, "m.zip", data), "", t.TempDir(), Options{})
	if err == nil || !strings.Contains(err.Error(), "list of files is too long") {
		t.Error(err)
	}
}

// A disk without room is nobody's fault, and trying again may help.
func TestNoRoom(t *testing.T) {
	for name, data := range map[string][]byte{"m.zip": zipOf(t, []packed{{"a.tif", "12345"}}), "m.gz": gzipOf(t, []byte("12345"))} {
		_, err := Maps(context.Background(), lay(t, name, data), "", t.TempDir(), Options{Room: 4})
		var short *Shortage
		var change interface{ MustChange() bool }
		if !errors.As(err, &short) || errors.As(err, &change) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The end of the context ends the work, with its cause.
func TestStopped(t *testing.T) {
	cause := errors.New("enough")
	ctx, cancel := context.WithCancelCause(context.Background())
	o := Options{Progress: func(done, total int64) { cancel(cause) }}
	data := zipOf(t, []packed{{"a.tif", strings.Repeat("a", 3<<20)}})
	if _, err := Maps(ctx, lay(t, "m.zip", data), "", t.TempDir(), o); !errors.Is(err, cause) {
		t.Error(err)
	}
}

// Links in an archive are never made, nor followed.
func TestLinks(t *testing.T) {
	dir := t.TempDir()
	if err := os.Symlink("/etc/passwd", filepath.Join(dir, "a.tif")); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"tar", "-cf", "m.tar", "a.tif"}, {"/usr/bin/python3", "-c", `
import zipfile
i = zipfile.ZipInfo("a.tif"); i.create_system = 3; i.external_attr = 0o120777 << 16
zipfile.ZipFile("m.zip", "w").writestr(i, "/etc/passwd")`}} {
		cmd := exec.Command(args[0], args[1:]...)
		cmd.Dir = dir
		if text, err := cmd.CombinedOutput(); err != nil {
			t.Fatal(err, string(text))
		}
	}
	for _, name := range []string{"m.tar", "m.zip"} {
		into := t.TempDir()
		if names, err := Maps(context.Background(), filepath.Join(dir, name), "", into, Options{}); err == nil {
			t.Errorf("%s: %q", name, names)
		}
		if got := made(t, into); len(got) > 0 {
			t.Errorf("%s: %q was made", name, got)
		}
	}
}

// Zip and tar programs of others are read: with and without sizes before the
// data, and a zip that grew beyond 65535 members, which needs the wide form.
func TestForeignArchives(t *testing.T) {
	dir := t.TempDir()
	script := `
import zipfile, tarfile, io
z = zipfile.ZipFile("many.zip", "w")
for i in range(66000): z.writestr("notes/%d.txt" % i, "")
z.writestr("deep/a.asc", "heights"); z.close()
t = tarfile.open("pax.tar.gz", "w:gz", format=tarfile.PAX_FORMAT)
i = tarfile.TarInfo("./h\u00f6hen/" + "x" * 120 + ".asc"); i.size = 7
t.addfile(i, io.BytesIO(b"heights")); t.close()
z = zipfile.ZipFile(open("stream.zip", "wb"), "w", zipfile.ZIP_DEFLATED)
z.writestr("a.asc", "heights"); z.close()
`
	cmd := exec.Command("/usr/bin/python3", "-c", script)
	cmd.Dir = dir
	if text, err := cmd.CombinedOutput(); err != nil {
		t.Fatal(err, string(text))
	}
	for _, name := range []string{"many.zip", "pax.tar.gz", "stream.zip"} {
		into := t.TempDir()
		names, err := Maps(context.Background(), filepath.Join(dir, name), "", into, Options{})
		if err != nil || len(names) != 1 {
			t.Errorf("%s: %q, %v", name, names, err)
			continue
		}
		if data, err := os.ReadFile(filepath.Join(into, names[0])); string(data) != "heights" {
			t.Errorf("%s: %q, %v", name, data, err)
		}
	}
}

func TestSplit(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a.zip", "b.TGZ", "h.tif.gz", "plain.tif"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "folder.zip"), 0o777); err != nil {
		t.Fatal(err)
	}
	for way, want := range map[string][2]string{
		"a.zip": {"a.zip", ""}, "a.zip/": {"a.zip", ""}, "a.zip/p/a.tif": {"a.zip", "p/a.tif"}, "b.TGZ/x": {"b.TGZ", "x"}, "h.tif.gz": {"h.tif.gz", ""},
		"plain.tif": {}, "folder.zip/a.zip": {}, "none.zip": {}, "none.zip/a.tif": {}, "": {},
	} {
		archive, member, ok := Split(filepath.Join(dir, "x")[:len(dir)+1] + way)
		if ok != (want[0] != "") || ok && (filepath.Base(archive) != want[0] || member != want[1]) {
			t.Errorf("%s: %q %q %v", way, archive, member, ok)
		}
	}
}

// FuzzMaps holds that no bytes make it crash, leave the folder, or write more
// than it may.
func FuzzMaps(f *testing.F) {
	for _, files := range [][]packed{soil, {{"a.tif", "a"}}, {{"../a.tif", "a"}}} {
		f.Add(0, zipOf(f, files))
		f.Add(1, tarOf(f, files))
		f.Add(2, gzipOf(f, tarOf(f, files)))
		f.Add(3, gzipOf(f, []byte("heights")))
	}
	f.Fuzz(func(t *testing.T, ending int, data []byte) {
		root := t.TempDir()
		archive := filepath.Join(root, "m"+[]string{".zip", ".tar", ".tgz", ".gz"}[uint(ending)%4])
		if err := os.WriteFile(archive, data, 0o666); err != nil {
			t.Fatal(err)
		}
		into := filepath.Join(root, "into")
		const most = 1 << 20
		names, err := Maps(context.Background(), archive, "", into, Options{Most: most})
		var size int64
		for _, name := range made(t, root) {
			info, err := os.Lstat(filepath.Join(root, name))
			if err != nil || !info.Mode().IsRegular() || name != filepath.Base(archive) && !strings.HasPrefix(name, "into/") {
				t.Fatalf("%s was made: %v", name, err)
			}
			size += info.Size()
		}
		if size > most+1<<18+int64(len(data)) {
			t.Fatalf("%d bytes were written", size)
		}
		if err == nil && len(names) != 1 {
			t.Fatalf("%q", names)
		}
	})
}

func ExampleMaps() {
	dir, err := os.MkdirTemp("", "unpack")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range []string{"read me.txt", "soil/ph.tif", "soil/ph.tif.aux.xml"} {
		if _, err := w.Create(name); err != nil {
			panic(err)
		}
	}
	w.Close()
	archive := filepath.Join(dir, "soil.zip")
	if err := os.WriteFile(archive, b.Bytes(), 0o666); err != nil {
		panic(err)
	}
	names, err := Maps(context.Background(), archive, "", filepath.Join(dir, "scratch"), Options{})
	fmt.Println(names, err)
	_, err = Maps(context.Background(), archive, "soil/pH.tif", filepath.Join(dir, "scratch"), Options{})
	fmt.Println(strings.TrimPrefix(err.Error(), dir+"/"))
	// Output:
	// [soil/ph.tif] <nil>
	// soil.zip: it holds no "soil/pH.tif"
}
