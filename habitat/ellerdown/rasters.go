package ellerdown

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"likelyground/raster"
	"likelyground/raster/cog"
)

// tileSide is the side of a tile in cells: a block of the file, and for the
// ground map a whole number of nodes.
const tileSide = 512

// painter draws tiles of one map; one a worker.
type painter struct {
	draw  func(raster.Tile) error
	close func()
}

// picture is a map to be drawn and how it is written.
type picture struct {
	file     string
	layout   cog.Layout
	painters func() (painter, error)
}

// paint draws a picture tile by tile and writes it to its file in dir.
func (p picture) paint(ctx context.Context, dir string, o Options, done func(cells int)) error {
	tags, err := o.GeoTags(p.layout.Grid.CRS)
	if err != nil {
		return fmt.Errorf("draw %s: %w", p.file, err)
	}
	p.layout.Geo = tags
	w, err := cog.Create(dir, p.layout)
	if err != nil {
		return fmt.Errorf("draw %s: %w", p.file, err)
	}
	defer w.Close()
	if err := p.fill(ctx, w, o.Workers, done); err != nil {
		return fmt.Errorf("draw %s: %w", p.file, err)
	}
	return write(filepath.Join(dir, p.file), w.Finish)
}

// fill draws all tiles, each by whichever worker is free.
func (p picture) fill(ctx context.Context, w *cog.Writer, workers int, done func(int)) error {
	tiles := tilesOf(p.layout.Grid)
	var next atomic.Int64
	var group sync.WaitGroup
	failures := make([]error, workers)
	for k := range workers {
		group.Go(func() {
			failures[k] = p.work(ctx, w, tiles, &next, done)
			if failures[k] != nil {
				next.Store(int64(len(tiles))) // the others need not go on
			}
		})
	}
	group.Wait()
	for _, err := range failures {
		if err != nil {
			return err
		}
	}
	return nil
}

// work is one worker: it takes tiles until none is left.
func (p picture) work(ctx context.Context, w *cog.Writer, tiles []raster.Window, next *atomic.Int64, done func(int)) error {
	painter, err := p.painters()
	if err != nil {
		return err
	}
	defer painter.close()
	encoder := w.Encoder()
	buffer := raster.NewTile(raster.Window{Cols: tileSide, Rows: tileSide})
	if p.layout.Sample != cog.Float32 {
		buffer = raster.NewClassTile(buffer.Window)
	}
	for {
		k := next.Add(1) - 1
		if k >= int64(len(tiles)) {
			return nil
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		t := part(buffer, tiles[k])
		if err := painter.draw(t); err != nil {
			return err
		}
		if err := encoder.Put(0, t); err != nil {
			return err
		}
		done(t.Size())
	}
}

// part is a tile over a window in the buffer of a larger one.
func part(buffer raster.Tile, w raster.Window) raster.Tile {
	t := raster.Tile{Window: w}
	if buffer.Codes != nil {
		t.Codes = buffer.Codes[:w.Size()]
	} else {
		t.Values = buffer.Values[:w.Size()]
	}
	return t
}

func tilesOf(g raster.Grid) []raster.Window {
	var out []raster.Window
	for row := 0; row < g.Rows; row += tileSide {
		for col := 0; col < g.Cols; col += tileSide {
			out = append(out, raster.Window{Col: col, Row: row, Cols: tileSide, Rows: tileSide}.Clip(g.Window()))
		}
	}
	return out
}

// write makes a file whole beside its place before it takes its name.
func write(path string, fill func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := fill(f); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return os.Rename(f.Name(), path)
}
