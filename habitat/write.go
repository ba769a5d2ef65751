package habitat

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"

	"likelyground/habitat/plan"
	"likelyground/habitat/publish"
	"likelyground/habitat/tint"
	"likelyground/raster/cog"
	"likelyground/raster/crs"
	"likelyground/raster/maps"
	"likelyground/raster/patch"
)

// The names of the outputs.
const (
	scoreFile      = "score.tif"
	factorsFile    = "factors.tif"
	hotspotsFile   = "hotspots.geojson"
	pictureFile    = "picture.tif"
	gpxFile        = "hotspots.gpx"
	csvFile        = "hotspots.csv"
	csvWordsFile   = csvFile + "-metadata.json"
	geopackageFile = "hotspots.gpkg"
)

var outputNames = []string{scoreFile, factorsFile, hotspotsFile, pictureFile, gpxFile, csvFile, csvWordsFile, geopackageFile}

// outputFile is an output as the account vouches for it.
type outputFile struct {
	File string `json:"file"`
	fileHash
}

// reserve refuses a disk that cannot hold the least of what is to come, and
// opens the writers.
func (r *run) reserve() error {
	d := r.desk
	scratch := r.Scratch
	if scratch == "" {
		scratch = r.folder.Scratch()
	}
	if err := d.estimate(r.Options.Memory, r.Threads).fits(r.folder.Scratch()); err != nil {
		return err
	}
	tags, err := maps.GeoTags(d.grid.CRS)
	if err != nil {
		return err
	}
	weights, _, err := weigh(d.plan)
	if err != nil {
		return err
	}
	r.results = &results{plan: d.plan, masked: d.graph.area != nil}
	if r.results.combiner, err = combiner(d.plan, weights); err != nil {
		return err
	}
	return r.results.openFiles(d, tags, scratch)
}

// openFiles opens a writer for each output that the plan asks for.
func (r *results) openFiles(d *desk, tags cog.GeoTags, scratch string) (err error) {
	nan := math.NaN()
	layout := cog.Layout{Grid: d.grid.Grid, Geo: tags, Nodata: &nan, Level: r.plan.Packing.Level}
	if r.plan.Packing.Packer == plan.Zstd {
		layout.Compression = cog.Zstd
	}
	if r.plan.Outputs.Score {
		layout.Bands = []cog.Band{{Description: "score", Unit: "1"}}
		if r.score, err = cog.Create(scratch, layout); err != nil {
			return err
		}
	}
	if r.plan.Outputs.Factors {
		layout.Bands = nil
		for _, f := range r.plan.Factors {
			layout.Bands = append(layout.Bands, cog.Band{Description: f.Name, Unit: "1"})
		}
		layout.Bands = append(layout.Bands, cog.Band{Description: "coverage", Unit: "1"})
		if r.factors, err = cog.Create(scratch, layout); err != nil {
			return err
		}
	}
	if r.plan.Outputs.Picture {
		if r.picture, err = cog.Create(scratch, pictureLayout(layout)); err != nil {
			return err
		}
	}
	if r.plan.Outputs.Areas() {
		return r.openSearch(d, scratch)
	}
	return nil
}

// pictureLayout is the score's layout for the picture, which every viewer is
// to show: whatever the plan's compression is, it is DEFLATE.
func pictureLayout(l cog.Layout) cog.Layout {
	out := cog.Layout{Grid: l.Grid, Geo: l.Geo, Sample: cog.Colour, Bands: []cog.Band{{Description: "score"}}}
	for _, c := range tint.Ramp() {
		out.Ramp = append(out.Ramp, c)
	}
	return out
}

func (r *results) openSearch(d *desk, scratch string) (err error) {
	rule := d.hotspotRule()
	if err := rule.Check(); err != nil {
		return err
	}
	r.rule = rule.Patches()
	if r.areas, err = crs.NewAreas(d.grid.Grid); err != nil {
		return err
	}
	r.patches, err = patch.NewStore(scratch, r.rule)
	return err
}

// write writes every output whole into the hidden folder, the account last.
func (r *run) write() error {
	type job struct {
		name  string
		wrote bool
		write func(io.Writer) error
	}
	asked := r.desk.plan.Outputs
	jobs := []job{
		{scoreFile, r.results.score != nil, func(w io.Writer) error { return r.results.score.Finish(w) }},
		{factorsFile, r.results.factors != nil, func(w io.Writer) error { return r.results.factors.Finish(w) }},
		{hotspotsFile, asked.Hotspots, r.writeHotspots},
		{pictureFile, asked.Picture, func(w io.Writer) error { return r.results.picture.Finish(w) }},
		{gpxFile, asked.GPX, r.writeGPX},
		{csvFile, asked.CSV, r.writeTable},
		{csvWordsFile, asked.CSV, r.writeTableWords},
		{geopackageFile, asked.GeoPackage, r.writeGeoPackage},
	}
	for _, j := range jobs {
		if !j.wrote {
			continue
		}
		hash, err := r.writeFile(j.name, j.write)
		if err != nil {
			return err
		}
		r.outputs = append(r.outputs, outputFile{j.name, hash})
	}
	if err := r.makeAccount(); err != nil {
		return err
	}
	var err error
	r.accountHash, err = r.writeFile(publish.Account, r.account.write)
	return err
}

// writeFile writes one file of the hidden folder and returns its hash.
func (r *run) writeFile(name string, write func(io.Writer) error) (fileHash, error) {
	f, err := r.folder.Create(name)
	if err != nil {
		return fileHash{}, err
	}
	sum := sha256.New()
	count := &counter{}
	w := bufio.NewWriterSize(io.MultiWriter(f, sum, count), 1<<20)
	err = write(w)
	if err = errors.Join(err, w.Flush(), f.Close()); err != nil {
		return fileHash{}, fmt.Errorf("write %s: %w", name, err)
	}
	return fileHash{Bytes: count.n, SHA256: hex.EncodeToString(sum.Sum(nil))}, nil
}

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}
