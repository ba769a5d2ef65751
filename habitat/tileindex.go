package habitat

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"likelyground/habitat/plan"
	"likelyground/vector"
)

// indexed returns the tiles that the indexes of a map name, in the order of
// their features, each once. A tile must lie in the folder of its index or
// below it, or be a file that the plan names.
func indexed(p *plan.Plan, m *plan.Map, dir string, indexes []string) ([]string, error) {
	x := tileIndex{plan: p, m: m, dir: dir, seen: map[string]bool{}}
	for _, file := range indexes {
		if err := x.read(file); err != nil {
			return nil, err
		}
	}
	return x.tiles, nil
}

// tileIndex gathers the tiles of one map.
type tileIndex struct {
	plan  *plan.Plan
	m     *plan.Map
	dir   string          // of the plan
	named map[string]bool // absolute paths that the plan names; nil until asked for
	seen  map[string]bool
	tiles []string
}

// read adds the tiles of one index.
func (x *tileIndex) read(file string) error {
	if endless(file) {
		return x.wrong(fmt.Sprintf("%s is no file, but a pipe or a device", file), "name a file")
	}
	// Footprints need no CRS: where tiles lie is asked of the tiles.
	layer, err := vector.Open(file, x.m.Layer, "EPSG:4326")
	if err != nil {
		return x.about(err)
	}
	defer layer.Close()
	before := len(x.tiles)
	_, err = layer.Each([]string{x.m.Index}, func(f *vector.Feature) error { return x.take(file, f) })
	if err == nil && len(x.tiles) == before && before == 0 {
		return x.wrong(fmt.Sprintf("the index %s names no tile", file), "make it anew, or name the tiles under file: instead")
	}
	return x.about(err)
}

// take adds the tile of a footprint.
func (x *tileIndex) take(index string, f *vector.Feature) error {
	name := strings.TrimSpace(f.Values[0].String())
	if name == "" {
		return x.wrong(fmt.Sprintf("feature %d of the index %s names no tile in its field %q", f.Number, index, x.m.Index), "correct the index, or name another field")
	}
	tile := inFolder(filepath.Dir(index), filepath.FromSlash(name))
	abs, err := filepath.Abs(tile)
	if err != nil {
		return err
	}
	folder, err := filepath.Abs(filepath.Dir(index))
	if err != nil {
		return err
	}
	if !strings.HasPrefix(abs, strings.TrimSuffix(folder, "/")+"/") && !x.names(abs) {
		return x.wrong(fmt.Sprintf("feature %d of the index %s leads to %s, outside the index's own folder", f.Number, index, name),
			"move the index above its tiles, with paths as seen from there, or name the tiles under file: instead")
	}
	if endless(tile) {
		return x.wrong(fmt.Sprintf("feature %d of the index %s leads to %s, which is no file, but a pipe or a device", f.Number, index, name), "correct the index")
	}
	if !x.seen[abs] {
		x.seen[abs] = true
		x.tiles = append(x.tiles, tile)
	}
	return nil
}

// names tells whether the plan names a file itself.
func (x *tileIndex) names(abs string) bool {
	if x.named == nil {
		x.named = map[string]bool{}
		for i := range x.plan.Maps {
			files, err := expand(x.plan, &x.plan.Maps[i], x.dir)
			for _, f := range files {
				if full, bad := filepath.Abs(f); err == nil && bad == nil {
					x.named[full] = true
				}
			}
		}
	}
	return x.named[abs]
}

func (x *tileIndex) wrong(what, fix string) error {
	return x.plan.PointAt(x.m.IndexAt, what, fix)
}

// about gives an error of the index its place in the plan, unless it has one.
func (x *tileIndex) about(err error) error {
	var v *vector.Problem
	if errors.As(err, &v) {
		return x.plan.PointAt(x.m.Files[0].Pos, fmt.Sprintf("the index of the map %q cannot be read: %v", x.m.Name, err), v.Remedy())
	}
	return err
}
