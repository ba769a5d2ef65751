package crs

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// shifted are places whose datum is shifted by a grid file where it is there:
// BETA2007.gsb of Debian's proj-data, which PROJ knows as de_adv_BETA2007.tif.
// The Swiss file to ETRS89 is not in it under a name that PROJ 9.1 takes.
// Accuracies are those of the EPSG Dataset, as projinfo lists them.
var shifted = []struct {
	name, from, to string
	area           Box
	x, y           float64
	file           string  // "": none that is there
	with, without  float64 // metres
	better         string  // of files that are not there, the one of the best shift
}{
	{"Germany, DHDN", "EPSG:31467", "EPSG:25832", Box{8.5, 48.5, 9.5, 49.5}, 3513000.25, 5430000.5, "BETA2007", 0.9, 1, "BWTA2017"},
	{"Germany, DHDN in degrees", "EPSG:4314", "EPSG:4258", Box{10, 51, 11, 52}, 10.5, 51.2, "BETA2007", 0.9, 1, "HeTa2010"},
	{"Switzerland, CH1903", "EPSG:21781", "EPSG:25832", Box{7, 46.5, 8, 47.5}, 600000.5, 200000.25, "", 1.5, 1.5, "CHENyx06_ETRS"},
}

// TestGridFileIsUsed: where the file of a datum shift is there, the operation
// goes by it, as GDAL's own does, and says how good it is.
func TestGridFileIsUsed(t *testing.T) {
	for _, c := range shifted {
		op, err := Choose(c.from, c.to, c.area, Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		x, y := run(t, op, c.x, c.y)
		if !strings.Contains(op.Definition, c.file) || op.Accuracy != c.with || op.Ballpark || !strings.Contains(op.Better, c.better) {
			t.Errorf("%s: %+v", c.name, op)
		}
		wx, wy := byGDAL(t, c.from, c.to, c.x, c.y, nil)
		tol := 1e-4
		if math.Abs(wx) <= 180 {
			tol = 1e-9
		}
		if math.Abs(x-wx) > tol || math.Abs(y-wy) > tol {
			t.Errorf("%s: %.9f %.9f, gdaltransform has %.9f %.9f", c.name, x, y, wx, wy)
		}
	}
}

// byGDAL transforms a point with gdaltransform.
func byGDAL(t *testing.T, from, to string, x, y float64, env []string) (float64, float64) {
	t.Helper()
	cmd := exec.Command("gdaltransform", "-s_srs", from, "-t_srs", to)
	cmd.Env = append(os.Environ(), env...)
	cmd.Stdin = strings.NewReader(fmt.Sprintf("%.10f %.10f\n", x, y))
	said, err := cmd.CombinedOutput()
	var wx, wy float64
	if _, scan := fmt.Sscan(string(said), &wx, &wy); err != nil || scan != nil {
		t.Fatalf("gdaltransform (gdal-bin): %v %v\n%s", err, scan, said)
	}
	return wx, wy
}

// bareChoice is what the test below asks of a process without the files.
type bareChoice struct {
	Op   Operation
	X, Y float64
}

// TestGridFileIsNotThere: without the file the shift is by parameters, is
// worse, and the operation says so. Both ways it names the file of a better one.
func TestGridFileIsNotThere(t *testing.T) {
	if os.Getenv("CRS_TEST_BARE") != "" {
		var out []bareChoice
		for _, c := range shifted {
			op, err := Choose(c.from, c.to, c.area, Options{})
			if err != nil {
				t.Fatal(err)
			}
			x, y := run(t, op, c.x, c.y)
			out = append(out, bareChoice{op, x, y})
		}
		data, err := json.Marshal(out)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(os.Getenv("CRS_TEST_BARE"), data, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	bare, answer := t.TempDir(), filepath.Join(t.TempDir(), "answer.json")
	database := ""
	for _, dir := range []string{"/usr/share/proj", "/usr/local/share/proj"} {
		if _, err := os.Stat(filepath.Join(dir, "proj.db")); err == nil {
			database = filepath.Join(dir, "proj.db")
		}
	}
	if err := os.Symlink(database, filepath.Join(bare, "proj.db")); err != nil {
		t.Fatal(err)
	}
	env := []string{"PROJ_DATA=" + bare, "PROJ_LIB=" + bare}
	cmd := exec.Command(os.Args[0], "-test.run", "^TestGridFileIsNotThere$")
	cmd.Env = append(append(os.Environ(), env...), "CRS_TEST_BARE="+answer)
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	data, err := os.ReadFile(answer)
	if err != nil {
		t.Fatal(err)
	}
	var got []bareChoice
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	for i, c := range shifted {
		op := got[i].Op
		if strings.Contains(op.Definition, "hgridshift") || op.Accuracy != c.without || op.Ballpark || !strings.Contains(op.Better, c.better) {
			t.Errorf("%s: %+v", c.name, op)
		}
		wx, wy := byGDAL(t, c.from, c.to, c.x, c.y, env)
		tol := 1e-4
		if math.Abs(wx) <= 180 {
			tol = 1e-9
		}
		if math.Abs(got[i].X-wx) > tol || math.Abs(got[i].Y-wy) > tol {
			t.Errorf("%s: %.9f %.9f, gdaltransform has %.9f %.9f", c.name, got[i].X, got[i].Y, wx, wy)
		}
	}
}
