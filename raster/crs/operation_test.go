package crs

import (
	"math"
	"os"
	"strings"
	"sync"
	"testing"
)

func dms(d, m, s float64) float64 { return d + m/60 + s/3600 }

// published holds coordinates that stand in print, with the tolerance that
// goes with them.
var published = []struct {
	source   string
	from, to string
	x, y     float64
	wantX    float64
	wantY    float64
	tol      float64
}{
	{"Ordnance Survey, A Guide to Coordinate Systems in Great Britain, Annexe C", "EPSG:4277", "EPSG:27700",
		dms(1, 43, 4.5177), dms(52, 39, 27.2531), 651409.903, 313177.270, .001},
	{"EPSG Guidance Note 7-2, Transverse Mercator", "EPSG:4277", "EPSG:27700", .5, 50.5, 577274.99, 69740.50, .02},
	{"EPSG Guidance Note 7-2, Lambert Azimuthal Equal Area", "EPSG:4258", "EPSG:3035", 5, 50, 3962799.45, 2999718.85, .02},
	{"EPSG Guidance Note 7-2, Oblique Stereographic", "EPSG:4289", "EPSG:28992", 6, 53, 196105.283, 557057.739, .02},
	{"EPSG Guidance Note 7-2, Lambert Conic Conformal 1SP", "EPSG:4242", "EPSG:24200",
		-dms(76, 56, 37.26), dms(17, 55, 55.80), 255966.58, 142493.51, .02},
	{"EPSG Guidance Note 7-2, Lambert Conic Conformal 2SP, US survey feet", "EPSG:4267", "EPSG:32040", -96, 28.5, 2963503.91, 254759.80, .02},
	{"IRENET95, the origin of EPSG:2157 (53.5 N, 8 W)", "EPSG:4258", "EPSG:2157", -8, 53.5, 600000, 750000, .001},
	{"PROJ 9.1.1 (cs2cs) and GDAL 3.6.2, Helmert of 3 m", "EPSG:4258", "EPSG:27700", 1.716073973, 52.658007833, 651411.2222, 313180.5966, .001},
	{"PROJ 9.1.1 (cs2cs), Helmert of 3 m", "EPSG:27700", "EPSG:25830", 530000, 180000, 699292.682, 5709783.210, .001},
	{"PROJ 9.1.1 (cs2cs), 1 m", "EPSG:29903", "EPSG:2157", 315904, 234671, 715829.945, 734697.234, .001},
}

func TestPublishedCoordinates(t *testing.T) {
	for _, c := range published {
		op, err := Choose(c.from, c.to, Box{}, Options{})
		if err != nil {
			t.Errorf("%s: %v", c.source, err)
			continue
		}
		x, y := run(t, op, c.x, c.y)
		if !(math.Abs(x-c.wantX) <= c.tol && math.Abs(y-c.wantY) <= c.tol) {
			t.Errorf("%s: %.4f %.4f, want %.4f %.4f", c.source, x, y, c.wantX, c.wantY)
		}
		back := Operation{Definition: op.Definition}
		tr, err := back.Open()
		if err != nil {
			t.Fatal(err)
		}
		xs, ys := []float64{x}, []float64{y}
		tr.Inverse(xs, ys)
		tr.Close()
		if !(math.Abs(xs[0]-c.x) < 1e-8*max(1, math.Abs(c.x)) && math.Abs(ys[0]-c.y) < 1e-8*max(1, math.Abs(c.y))) {
			t.Errorf("%s: there and back again is %v %v", c.source, xs[0], ys[0])
		}
	}
}

func run(t *testing.T, op Operation, x, y float64) (float64, float64) {
	t.Helper()
	tr, err := op.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer tr.Close()
	xs, ys := []float64{x}, []float64{y}
	tr.Forward(xs, ys)
	return xs[0], ys[0]
}

// norfolk is the ground round the worked example of the Ordnance Survey.
var norfolk = Box{1.5, 52.5, 1.9, 52.8}

func TestChooseRecordsAccuracyAndBetter(t *testing.T) {
	op, err := Choose("EPSG:4258", "EPSG:27700", norfolk, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if op.Accuracy != 3 || op.Ballpark || op.Identity || op.Outside || op.From != "EPSG:4258" || op.To != "EPSG:27700" {
		t.Errorf("%+v", op)
	}
	if !strings.Contains(op.Better, "uk_os_OSTN15_NTv2_OSGBtoETRS.tif") || !strings.Contains(op.Better, "0.03 m") {
		t.Errorf("better: %q", op.Better)
	}
	if !strings.Contains(op.Name, "OSGB36 to WGS 84") || !strings.HasPrefix(op.Definition, "+proj=pipeline") {
		t.Errorf("%+v", op)
	}
	if _, err := Choose("EPSG:4258", "EPSG:27700", norfolk, Options{MaxError: 3}); err != nil {
		t.Error(err)
	}
	_, err = Choose("EPSG:4258", "EPSG:27700", norfolk, Options{MaxError: .5})
	mustRefuse(t, err, "uk_os_OSTN15_NTv2_OSGBtoETRS.tif")
}

// NAD27 in Europe: only a ballpark transformation, which leaves latitude and
// longitude as they are; numbers by GDAL 3.6.2 (gdaltransform).
func TestChooseRefusesBallpark(t *testing.T) {
	box := Box{1, 41, 3, 42}
	_, err := Choose("EPSG:4267", "EPSG:25831", box, Options{})
	mustRefuse(t, err, "`accept ballpark: yes`")
	op, err := Choose("EPSG:4267", "EPSG:25831", box, Options{AllowBallpark: true})
	if err != nil || !op.Ballpark || op.Accuracy != -1 {
		t.Fatalf("%+v, %v", op, err)
	}
	x, y := run(t, op, 2, 41.5)
	if math.Abs(x-416536.70459) > 1e-4 || math.Abs(y-4594746.87077) > 1e-4 {
		t.Errorf("%.3f %.3f", x, y)
	}
	_, err = Choose("EPSG:4267", "EPSG:25831", box, Options{AllowBallpark: true, MaxError: 1000})
	mustRefuse(t, err, "another CRS")
}

// Where there is a real transformation a ballpark one is not taken, allowed or
// not; without a datum there is no other (PROJ 9.1.1, cs2cs --only-best=no).
func TestBallparkOnlyForWantOfBetter(t *testing.T) {
	op, err := Choose("EPSG:27700", "EPSG:25830", Box{}, Options{AllowBallpark: true})
	if err != nil || op.Ballpark || op.Accuracy != 3 {
		t.Errorf("%+v, %v", op, err)
	}
	const noDatum = "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy +units=m"
	op, err = Choose(noDatum, "EPSG:25830", Box{}, Options{AllowBallpark: true})
	if err != nil || !op.Ballpark {
		t.Fatalf("%+v, %v", op, err)
	}
	if x, y := run(t, op, 530000, 180000); math.Abs(x-699406.367) > .001 || math.Abs(y-5709730.796) > .001 {
		t.Errorf("%.3f %.3f", x, y)
	}
}

func TestChooseExactWithoutDatumChange(t *testing.T) {
	for _, to := range []string{"EPSG:4326", "EPSG:32633", "EPSG:3857"} {
		op, err := Choose("EPSG:32631", to, Box{2, 40, 3, 41}, Options{MaxError: .001})
		if err != nil || op.Accuracy != 0 || op.Better != "" || op.Identity {
			t.Errorf("%s: %+v, %v", to, op, err)
		}
	}
}

func TestChooseIdentity(t *testing.T) {
	op, err := Choose("EPSG:4326", "urn:ogc:def:crs:OGC:1.3:CRS84", Box{}, Options{})
	if err != nil || !op.Identity || op.Accuracy != 0 {
		t.Fatalf("%+v, %v", op, err)
	}
	if x, y := run(t, op, 12.3456789, -65.4321); x != 12.3456789 || y != -65.4321 {
		t.Errorf("%v %v", x, y)
	}
	if x, y := run(t, op, 1, math.NaN()); !math.IsInf(x, 1) || !math.IsInf(y, 1) {
		t.Errorf("%v %v", x, y)
	}
}

// An operation whose grid file ends within the area would leave a hole where
// another does not: the German grid file stops at the Dutch border, and the
// seven-parameter shift does not.
func TestChooseServesTheWholeArea(t *testing.T) {
	within, err := Choose("EPSG:31467", "EPSG:25832", Box{9, 51, 10, 52}, Options{})
	if err != nil || !strings.Contains(within.Definition, "hgridshift") {
		t.Fatalf("%+v, %v", within, err)
	}
	across, err := Choose("EPSG:31467", "EPSG:25832", Box{3, 51, 10, 52}, Options{})
	if err != nil || strings.Contains(across.Definition, "hgridshift") || across.Ballpark {
		t.Fatalf("%+v, %v", across, err)
	}
	if x, y := run(t, across, 3150000, 5700000); !finite(x, y) {
		t.Error("a hole")
	}
}

func TestChooseOutsideTheGroundOfAnOperation(t *testing.T) {
	op, err := Choose("EPSG:31467", "EPSG:25832", Box{-30, 53, -29, 54}, Options{})
	if err != nil || !op.Outside || op.Accuracy != -1 || op.Ballpark {
		t.Errorf("%+v, %v", op, err)
	}
}

// A step of plate motion: without an epoch PROJ must stay at the operation's
// own, not at the year 0, which would be 140 m off. ITRF2014 and GDA2020
// agree at 2020.0 by definition (EPSG:8049).
func TestNoEpochIsTheOperationsOwn(t *testing.T) {
	op, err := Choose("EPSG:9000", "EPSG:7844", Box{139, -31, 141, -29}, Options{})
	if err != nil || !strings.Contains(op.Definition, "t_epoch=2020") {
		t.Fatalf("%+v, %v", op, err)
	}
	if x, y := run(t, op, 140, -30); math.Abs(x-140) > 1e-9 || math.Abs(y+30) > 1e-9 {
		t.Errorf("%v %v", x, y)
	}
}

// Axis orders and directions as GDAL 3.6.2 (gdaltransform) takes them.
func TestAxes(t *testing.T) {
	for _, c := range []struct {
		from, to   string
		x, y, u, v float64
	}{
		{"EPSG:4148", "EPSG:2048", 18.5, -33, 46726.8505720571, 3652859.088264}, // westing, southing
		{"EPSG:4156", "EPSG:5513", 15, 49, 1168493.28949446, 717409.611292086},  // southing, westing
		{"EPSG:4314", "EPSG:31467", 9, 52, 3500000, 5762750.67378801},           // northing first
		{"EPSG:4326", "EPSG:32661", 0, 89, 2000000, 1888973.47988069},           // polar
	} {
		op, err := Choose(c.from, c.to, Box{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if u, v := run(t, op, c.x, c.y); math.Abs(u-c.u) > 1e-6 || math.Abs(v-c.v) > 1e-6 {
			t.Errorf("%s: %.9f %.9f", c.to, u, v)
		}
	}
}

func TestChooseRefusesNonsense(t *testing.T) {
	_, err := Choose("nonsense", "EPSG:4326", Box{}, Options{})
	mustRefuse(t, err, "by code")
	_, err = Choose("EPSG:4326", "nonsense", Box{}, Options{})
	mustRefuse(t, err, "by code")
}

func TestTransformerFailsPointwise(t *testing.T) {
	op, err := Choose("EPSG:4326", "EPSG:25831", Box{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := op.Open()
	if err != nil {
		t.Fatal(err)
	}
	x, y := []float64{2, 2, math.NaN(), 3, math.Inf(1)}, []float64{41, 1000, 41, 42, 41}
	tr.Forward(x, y)
	for i, good := range []bool{true, false, false, true, false} {
		if finite(x[i], y[i]) != good || !good && !(math.IsInf(x[i], 1) && math.IsInf(y[i], 1)) {
			t.Errorf("point %d: %v %v", i, x[i], y[i])
		}
	}
	tr.Forward(nil, nil)
	tr.Close()
	tr.Close()
}

func TestOpenNamesWhatFailed(t *testing.T) {
	_, err := Operation{From: "EPSG:1", To: "EPSG:2", Name: "shift by file", Definition: "+proj=hgridshift +grids=gone.tif"}.Open()
	if err == nil || !strings.Contains(err.Error(), "shift by file") || !strings.Contains(err.Error(), "EPSG:1") {
		t.Error(err)
	}
}

// Each worker with its own transformer: the same bits, and nothing for the
// race detector.
func TestTransformersSideBySide(t *testing.T) {
	op, err := Choose("EPSG:27700", "EPSG:25830", Box{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var all [4][500]float64
	var workers sync.WaitGroup
	for n := range all {
		workers.Go(func() {
			tr, err := op.Open()
			if err != nil {
				t.Error(err)
				return
			}
			defer tr.Close()
			y := make([]float64, len(all[n]))
			for i := range y {
				all[n][i], y[i] = 4e5+float64(i)*321, 3e5
			}
			tr.Forward(all[n][:], y)
		})
	}
	workers.Wait()
	for n := range all {
		if all[n] != all[0] {
			t.Errorf("worker %d differs", n)
		}
	}
}

func TestEnvironmentIsOverridden(t *testing.T) {
	for name := range overridden {
		t.Setenv(name, "ON")
	}
	overrideEnvironment()
	for name, want := range overridden {
		if got := os.Getenv(name); got != want {
			t.Errorf("%s is %q", name, got)
		}
	}
}

func TestVersion(t *testing.T) {
	if v := Version(); !strings.HasPrefix(v, "PROJ ") || !strings.Contains(v, "EPSG v") {
		t.Error(v)
	}
}
