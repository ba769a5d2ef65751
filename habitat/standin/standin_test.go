package standin

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func zipped(dir, name string, members ...string) string {
	path := filepath.Join(dir, name)
	f, err := os.Create(path)
	if err != nil {
		panic(err)
	}
	defer f.Close()
	w := zip.NewWriter(f)
	defer w.Close()
	for _, m := range members {
		if _, err := w.Create(m); err != nil {
			panic(err)
		}
	}
	return path
}

func TestFilesOfAnArchive(t *testing.T) {
	dir := t.TempDir()
	soil, rock := zipped(dir, "soil.zip", "ph/soil.tif", "ph/soil.prj"), zipped(dir, "rock.zip", "rock.shp", "rock.dbf")
	d := &Desk{Scratch: dir}
	files, err := d.Files(context.Background(), soil)
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	if _, err := os.Stat(files[0]); err != nil {
		t.Error(err)
	}
	more, err := d.Files(context.Background(), filepath.Join(rock, "rock.shp"))
	if err != nil || len(more) != 1 {
		t.Fatal(more, err)
	}
	text := d.Shown("read " + files[0] + " and " + more[0] + ", not " + dir)
	if want := "read " + soil + "/ph/soil.tif and " + rock + "/rock.shp, not " + dir; text != want {
		t.Errorf("%q, want %q", text, want)
	}
	if d.Origin(files[0]) != soil || d.Origin(filepath.Join(filepath.Dir(more[0]), "rock.dbf")) != rock || d.Origin("/x") != "/x" {
		t.Error("the origins are wrong")
	}
	if plain, err := d.Files(context.Background(), filepath.Join(dir, "dem.tif")); plain != nil || err != nil {
		t.Error(plain, err)
	}
	if err := d.Unchanged(); err != nil {
		t.Error(err)
	}
	if err := os.Chtimes(rock, time.Time{}, time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if err := d.Unchanged(); !errors.Is(err, ErrChanged) {
		t.Error(err)
	}
	if left, err := os.ReadDir(dir); len(left) != 3 || err != nil {
		t.Error(left, err)
	}
	d.Close()
	if left, err := os.ReadDir(dir); len(left) != 2 || err != nil {
		t.Error(left, err)
	}
}

func ExampleDesk_Files() {
	dir, err := os.MkdirTemp("", "standin")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	archive := zipped(dir, "soil.zip", "ph/soil.tif")
	d := &Desk{Scratch: dir}
	defer d.Close()
	files, err := d.Files(context.Background(), archive)
	fmt.Println(d.Shown(files[0])[len(dir)+1:], err)
	// Output: soil.zip/ph/soil.tif <nil>
}
