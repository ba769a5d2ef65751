package ellerdown

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"syscall"

	"likelyground/raster/cog"
)

// Size is that of the ground map in cells of 10 m.
type Size struct{ Cols, Rows int }

// Demonstration is a country of 7.4 by 6 km, drawn in a second or two.
var Demonstration = Size{740, 600}

// The sides a country may have, in cells. Larger ones would reach land.
const leastSide, mostSide = 64, 20_000

// Options are those of [Draw].
type Options struct {
	Size    Size // zero: Demonstration
	Workers int  // zero: one a processor
	// GeoTags gives the GeoTIFF tags of a coordinate reference system.
	GeoTags func(crs string) (cog.GeoTags, error)
	// Progress, if given, is told now and then how many of all cells are
	// drawn; never by two goroutines at once.
	Progress func(drawn, all int64)
}

// PlanName is the name of the plan that Draw lays down.
const PlanName = "ellerdown.yaml"

//go:embed ellerdown.yaml
var planText []byte

// Plan returns the plan that Draw lays down.
func Plan() []byte { return bytes.Clone(planText) }

// Draw lays the country down in dir, which is made if need be: the plan and
// the folder inputs with dem.tif (float heights in metres), soil_ph.tif
// (whole tenths of pH), cover.tif with cover_legend.csv, geology.gpkg and
// area.geojson. Files that are there already are replaced, but a plan that
// is not the one to be laid down is somebody's work: then nothing is touched
// and the error is an [*Error]. Each file takes its name when it is whole,
// the plan last. Memory does not grow with the size.
func Draw(ctx context.Context, dir string, o Options) error {
	o, err := o.complete()
	if err != nil {
		return err
	}
	plan := filepath.Join(dir, PlanName)
	if err := spare(plan); err != nil {
		return err
	}
	inputs := filepath.Join(dir, "inputs")
	if err := os.MkdirAll(inputs, 0o755); err != nil {
		return noFolder(dir, err)
	}
	if err := drawMaps(ctx, inputs, o); err != nil {
		return err
	}
	return writeBytes(plan, planText)
}

func (o Options) complete() (Options, error) {
	if o.Size == (Size{}) {
		o.Size = Demonstration
	}
	if s := o.Size; min(s.Cols, s.Rows) < leastSide || max(s.Cols, s.Rows) > mostSide {
		return o, &Error{
			fmt.Sprintf("a country of %d x %d cells cannot be drawn", s.Cols, s.Rows),
			fmt.Sprintf("choose sides from %d to %d", leastSide, mostSide),
		}
	}
	if o.GeoTags == nil {
		return o, errors.New("ellerdown: Options.GeoTags is not given")
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	return o, nil
}

// spare refuses to overwrite a plan that somebody has changed.
func spare(plan string) error {
	old, err := os.ReadFile(plan)
	switch {
	case os.IsNotExist(err):
		return nil
	case err != nil:
		return noFolder(filepath.Dir(plan), err)
	case !bytes.Equal(old, planText):
		return &Error{plan + " is there already and is not the plan to be laid down", "choose another folder, or move it away"}
	}
	return nil
}

// noFolder is the error of a folder that cannot be made or read: an [*Error]
// where another folder is needed.
func noFolder(dir string, err error) error {
	for _, e := range []error{fs.ErrPermission, fs.ErrNotExist, syscall.ENOTDIR, syscall.EROFS} {
		if errors.Is(err, e) {
			return &Error{fmt.Sprintf("the folder %s cannot be written: %v", dir, err), "name another folder"}
		}
	}
	return err
}

// drawMaps draws everything but the plan.
func drawMaps(ctx context.Context, inputs string, o Options) error {
	g := countryGrid(o.Size)
	country := boxOf(g)
	cover, err := coverPicture(country)
	if err != nil {
		return err
	}
	soil, err := soilPicture(country)
	if err != nil {
		return err
	}
	pictures := []picture{groundPicture(g), cover, soil}
	p := progress{report: o.Progress}
	for _, picture := range pictures {
		p.all += picture.layout.Grid.Cells()
	}
	for _, picture := range pictures {
		if err := picture.paint(ctx, inputs, o, p.add); err != nil {
			return err
		}
	}
	if err := writeGeology(ctx, filepath.Join(inputs, "geology.gpkg"), country); err != nil {
		return err
	}
	if err := writeArea(filepath.Join(inputs, "area.geojson"), country); err != nil {
		return err
	}
	return writeBytes(filepath.Join(inputs, "cover_legend.csv"), legend())
}

// legend is the legend of the cover map.
func legend() []byte {
	var b bytes.Buffer
	b.WriteString("code,name\n")
	for _, c := range coverTable {
		b.WriteString(strconv.Itoa(int(c.Cover)) + "," + c.name + "\n")
	}
	return b.Bytes()
}

func writeBytes(path string, content []byte) error {
	return write(path, func(w io.Writer) error {
		_, err := w.Write(content)
		return err
	})
}

// progress counts cells and reports them.
type progress struct {
	mu     sync.Mutex
	drawn  int64
	all    int64
	report func(drawn, all int64)
}

func (p *progress) add(cells int) {
	if p.report == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.drawn += int64(cells)
	p.report(p.drawn, p.all)
}

// Error is a country that cannot be drawn as asked for.
type Error struct{ Problem, Cure string }

// Error returns what is wrong and what to do about it.
func (e *Error) Error() string { return e.Problem + "; " + e.Cure }

// Remedy returns what to do about it.
func (e *Error) Remedy() string { return e.Cure }

// MustChange reports that trying again cannot help.
func (e *Error) MustChange() bool { return true }
