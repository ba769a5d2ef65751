package habitat

import (
	"context"
	"errors"
	"fmt"
	"io"
	stdmaps "maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"syscall"

	"likelyground/habitat/layers"
	"likelyground/habitat/legends"
	"likelyground/habitat/plan"
	"likelyground/raster/maps"
)

// source is a map of the plan, opened on the grid.
type source struct {
	m        *plan.Map
	raster   *maps.Raster   // nil for a vector
	polygons *maps.Polygons // nil for a raster
	classes  *classes       // nil for a quantity
	inArea   sharedTally
	told     *maps.Findings // what an earlier run found in the map's cells, where this one does not judge them
	blank    string         // why an optional map is wholly unknown; "" when it is there
}

// open returns what readers are opened on.
func (s *source) source() maps.Source {
	if s.polygons != nil {
		return s.polygons
	}
	return s.raster
}

// files returns all files that the map's values depend on.
func (s *source) files() []string {
	switch {
	case s.raster != nil:
		return s.raster.Files()
	case s.polygons != nil:
		return s.polygons.Files()
	}
	return nil
}

// unchanged returns an error when a file of the map changed since opening.
func (s *source) unchanged() error {
	switch {
	case s.raster != nil:
		return s.raster.Unchanged()
	case s.polygons != nil:
		return s.polygons.Unchanged()
	}
	return nil
}

func (s *source) close() error {
	if s.blank != "" {
		return nil
	}
	return s.source().Close()
}

// opener opens the maps of a plan.
type opener struct {
	ctx     context.Context
	plan    *plan.Plan
	dir     string // of the plan
	grid    *ground
	scratch string
}

// openMap opens one map on the grid.
func (o opener) openMap(m *plan.Map) (*source, error) {
	s := &source{m: m}
	if m.Classes {
		legend, err := o.legend(m)
		if err != nil {
			return nil, err
		}
		s.classes = newClasses(m, legend)
	}
	var err error
	if m.Field != "" {
		err = o.openVector(s)
	} else {
		err = o.openRaster(s)
	}
	if err != nil && m.Optional && maps.Elsewhere(err) {
		s.blank, err = err.Error(), nil
		if s.classes != nil {
			s.classes.gone = true
		}
	}
	return s, err
}

func (o opener) openRaster(s *source) error {
	spec, err := rasterSpec(o.plan, s.m, o.dir)
	if err != nil {
		return err
	}
	if s.classes != nil {
		if err := s.classes.refuseTexts(); err != nil {
			return pointed(o.plan, s.m.Legend.Pos, err)
		}
		if spec.WhereAbsent, err = o.absentCode(s); err != nil {
			return err
		}
	}
	s.raster, err = maps.OpenRaster(spec, o.grid.Grid)
	return err
}

func (o opener) openVector(s *source) error {
	files, err := expand(o.plan, s.m, o.dir)
	if err != nil {
		return err
	}
	if len(files) > 1 {
		return o.plan.PointAt(s.m.Files[0].Pos, fmt.Sprintf("the map %q names %d vector files, but one is read", s.m.Name, len(files)), "join them into one GeoPackage first")
	}
	numbers, err := rasterSpec(o.plan, s.m, o.dir)
	if err != nil {
		return err
	}
	spec := maps.PolygonSpec{
		Name: s.m.Name, File: files[0], Layer: s.m.Layer, Field: s.m.Field, Else: s.m.Else, CRS: s.m.CRS,
		ShareUnit: shareUnits[s.m.SharesIn], Where: s.m.Where, Radius: s.m.Radius, Width: s.m.Width,
		AllowBallpark: s.m.AcceptBallpark, Scratch: o.scratch, Context: o.ctx,
	}
	for _, p := range s.m.Parts {
		spec.Parts = append(spec.Parts, maps.PartField{Class: p.Field, Share: p.Share})
	}
	if s.classes == nil {
		spec.Numbers = &numbers
	} else {
		spec.Missing = numbers.Missing
		if b := s.m.Legend.Open(); b != nil && !s.m.Missing.None {
			spec.NoData = b.NoData
		}
		if spec.WhereAbsent, err = o.absentClass(s); err != nil {
			return err
		}
	}
	s.polygons, err = maps.OpenPolygons(spec, o.grid.Grid)
	if err != nil || s.classes == nil {
		return err
	}
	if err := s.classes.take(s.polygons); err != nil {
		s.polygons.Close()
		return pointed(o.plan, s.m.Legend.Pos, err)
	}
	return nil
}

// shareUnits are the plan's words for what shares of parts count in.
var shareUnits = map[plan.SharesIn]maps.ShareUnit{plan.InPercent: maps.SharePercent, plan.InFractions: maps.ShareFraction}

// rasterSpec says how the files of a map are to be read.
func rasterSpec(p *plan.Plan, m *plan.Map, dir string) (maps.RasterSpec, error) {
	files, err := rasterFiles(p, m, dir)
	s := maps.RasterSpec{
		Name: m.Name, Files: files, Band: m.Band, Classes: m.Classes,
		MissingNone: m.Missing.None, Scale: m.Scale, Offset: m.Offset,
		Unit: m.Unit, Elevation: heights(p, m), CRS: m.CRS, AllowBallpark: m.AcceptBallpark,
	}
	for _, v := range m.Missing.Values {
		s.Missing = append(s.Missing, maps.Range{From: v, To: v})
	}
	for _, r := range m.Missing.Ranges {
		s.Missing = append(s.Missing, maps.Range{From: r.Low, To: r.High})
	}
	if b := m.Legend.Open(); b != nil && !m.Missing.None {
		for _, x := range b.Missing {
			if x.Text == "" {
				s.Missing = append(s.Missing, maps.Range{From: float64(x.Code), To: float64(x.Code)})
			}
		}
	}
	if m.Between != nil {
		s.Between = &[2]float64{m.Between.Low, m.Between.High}
	}
	if a := m.WhereAbsent; a != nil && !a.IsClass {
		s.WhereAbsent = &a.Number
	}
	return s, err
}

// rasterFiles returns the rasters of a map: its files, or the tiles that
// these, as indexes, name.
func rasterFiles(p *plan.Plan, m *plan.Map, dir string) ([]string, error) {
	files, err := expand(p, m, dir)
	if err != nil || m.Index == "" {
		return files, err
	}
	return indexed(p, m, dir, files)
}

// absentCode returns the code of ground that no file of a map of classes
// covers; nil where the plan names none.
func (o opener) absentCode(s *source) (*float64, error) {
	a := s.m.WhereAbsent
	if a == nil || s.classes == nil {
		return nil, nil
	}
	codes, unknown := s.classes.codes(*a.Class)
	if unknown != nil {
		return nil, o.plan.PointAt(a.Pos, unknown.what, unknown.fix)
	}
	if len(codes) == 0 {
		return nil, nil
	}
	at := 0
	if s.m.Field != "" {
		at = len(codes) - 1 // the codes of vector maps stand behind those of rasters
	}
	code := float64(codes[at])
	return &code, nil
}

// absentClass returns what ground is, as the field of a vector map would say,
// that no polygon covers; "" where the plan does not say.
func (o opener) absentClass(s *source) (string, error) {
	a := s.m.WhereAbsent
	switch {
	case a == nil:
		return "", nil
	case s.classes.legend.Texts():
		return o.absentText(s)
	case s.classes.legend != nil:
		code, err := o.absentCode(s)
		if err != nil {
			return "", err
		}
		return strconv.Itoa(int(*code)), nil
	case a.Class.IsCode:
		return strconv.Itoa(int(a.Class.Code)), nil
	}
	return a.Class.Name, nil
}

// absentText returns the text, in a field that has a legend, of the class of
// ground that no polygon covers.
func (o opener) absentText(s *source) (string, error) {
	v := plan.Vocabulary{Classes: s.classes.legend, Loose: s.m.Legend.Open() != nil}
	n := v.Name([]plan.Class{*s.m.WhereAbsent.Class})
	for i, h := range n.Hits {
		if h.Key >= 0 {
			return s.classes.legend[i].Text, nil
		}
	}
	u := s.classes.notInLegend(v, *s.m.WhereAbsent.Class)
	return "", o.plan.PointAt(s.m.WhereAbsent.Pos, u.what, u.fix)
}

// heights reports whether a map's numbers are heights: it says so by its
// unit, or something is worked out from it that needs heights.
func heights(p *plan.Plan, m *plan.Map) bool {
	if m.Classes {
		return false
	}
	feeding := map[string]bool{} // layers that something is worked out from that needs heights
	for _, d := range slices.Backward(p.Derived) {
		for _, name := range d.Reads() {
			if d.Drains != nil && name == d.Drains.Map {
				continue
			}
			feeding[name] = feeding[name] || layers.Height(d.Verb) || d.Verb == plan.FirstOf && feeding[d.Name]
		}
	}
	return feeding[m.Name] || m.Height()
}

// expand returns the files of a map: paths as they are, patterns by the names
// they match, sorted.
func expand(p *plan.Plan, m *plan.Map, dir string) ([]string, error) {
	var files []string
	for _, path := range m.Files {
		if path.StandIns != nil {
			files = append(files, path.StandIns...)
			continue
		}
		full := inFolder(dir, path.Text)
		if _, err := os.Stat(full); err == nil || !path.Glob {
			files = append(files, full) // a name may hold the signs of a pattern
			continue
		}
		found, err := filepath.Glob(full)
		if err != nil || len(found) == 0 {
			return nil, p.PointAt(path.Pos, fmt.Sprintf("no file matches %q", path.Text), "check the folder and the pattern; paths are relative to the plan")
		}
		sort.Strings(found)
		files = append(files, found...)
	}
	return files, nil
}

// inFolder makes a path of the plan relative to the plan's folder.
func inFolder(dir, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(dir, path)
}

// legend returns the legend of a map: the plan's, or the class names that a
// raster brings along; nil if it has none.
func (o opener) legend(m *plan.Map) (plan.Legend, error) {
	if m.Legend == nil && m.Field == "" {
		return o.ownNames(m)
	}
	if m.Legend == nil {
		return nil, nil
	}
	if m.Legend.File == "" {
		return m.Legend.Known(), nil
	}
	data, err := readUpTo(inFolder(o.dir, m.Legend.File), mostLegend)
	if os.IsNotExist(err) {
		fix := "correct the path; it is relative to the plan"
		if near := plan.Suggest(m.Legend.File, legends.Names()); near != "" {
			fix = fmt.Sprintf("did you mean the built-in one, legend: {built in: %s}? Else %s", near, fix)
		}
		return nil, o.plan.PointAt(m.Legend.Pos, fmt.Sprintf("there is no legend file %q", m.Legend.File), fix)
	}
	if errors.Is(err, syscall.EISDIR) {
		return nil, o.plan.PointAt(m.Legend.Pos, fmt.Sprintf("the legend %q is a folder", m.Legend.File), "name a table with the header code,name")
	}
	if err != nil {
		return nil, fmt.Errorf("read the legend of the map %q: %w", m.Name, err)
	}
	return plan.ReadLegend(m.Legend.File, data)
}

// mostLegend is more than a legend may have; see package plan.
const mostLegend = 4<<20 + 1

// readUpTo reads at most a number of bytes of a file.
func readUpTo(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most))
}

// ownNames are the class names that a raster brings along.
func (o opener) ownNames(m *plan.Map) (plan.Legend, error) {
	spec, err := rasterSpec(o.plan, m, o.dir)
	if err != nil {
		return nil, err
	}
	names, err := maps.CategoryNames(spec)
	var out plan.Legend
	for _, code := range slices.Sorted(stdmaps.Keys(names)) {
		out = append(out, plan.LegendEntry{Code: code, Name: names[code]})
	}
	return out, err
}
