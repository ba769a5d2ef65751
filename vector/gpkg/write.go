package gpkg

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/airbusgeo/godal"

	"likelyground/vector"
	"likelyground/vector/legible"
)

// Write writes the layers to a new GeoPackage at path. The file is made
// whole in a folder of its own beside path and then takes its name, so that
// nothing half-written ever bears it; a file that was there is replaced.
// Layers without a feature are written too.
func Write(path string, layers []Layer) error {
	if err := checkAll(layers); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	if err := write(path, layers); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

func checkAll(layers []Layer) error {
	if len(layers) == 0 {
		return errors.New("no layer to write")
	}
	seen := map[string]bool{}
	for _, l := range layers {
		if seen[l.Name] {
			return fmt.Errorf("two layers are named %q", l.Name)
		}
		seen[l.Name] = true
		if err := l.check(); err != nil {
			return err
		}
	}
	return nil
}

func write(path string, layers []Layer) error {
	dir, err := os.MkdirTemp(filepath.Dir(path), ".gpkg-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	whole := filepath.Join(dir, "whole.gpkg")
	if err := create(whole, layers); err != nil {
		return err
	}
	if err := sync(whole); err != nil {
		return err
	}
	return os.Rename(whole, path)
}

func sync(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Chmod(0o644), f.Sync(), f.Close())
}

func create(path string, layers []Layer) (err error) {
	vector.Setup()
	ds, err := godal.CreateVector(godal.GeoPackage, path, godal.CreationOption("VERSION=1.3"), vector.Quiet)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, ds.Close(vector.Quiet)) }()
	if err := ds.StartTransaction(vector.Quiet); err != nil {
		return err
	}
	for _, l := range layers {
		if err := l.create(ds); err != nil {
			return fmt.Errorf("layer %q: %w", l.Name, err)
		}
	}
	return ds.CommitTransaction(vector.Quiet)
}

func (l Layer) create(ds *godal.Dataset) error {
	sr, err := godal.NewSpatialRef(l.CRS, vector.Quiet)
	if err != nil {
		return fmt.Errorf("coordinate reference system %q is not understood: %w", l.CRS, err)
	}
	defer sr.Close()
	opts := []godal.CreateLayerOption{vector.Quiet}
	for _, f := range l.Fields {
		opts = append(opts, godal.NewFieldDefinition(f.Name, f.Kind.ogr()))
	}
	layer, err := ds.CreateLayer(l.Name, sr, l.geometryType(), opts...)
	if err != nil {
		return err
	}
	out := layerWriter{Layer: l, to: layer, sr: sr, multi: l.many()}
	for i := range l.Features {
		if err := out.put(l.Features[i]); err != nil {
			return fmt.Errorf("feature %d: %w", i+1, err)
		}
	}
	if err := l.putNulls(ds); err != nil {
		return err
	}
	return l.describe(ds)
}

// describe keeps what the layer is about in the table of contents.
func (l Layer) describe(ds *godal.Dataset) error {
	if l.About == "" {
		return nil
	}
	text := "'" + strings.ReplaceAll(legible.Text(l.About), "'", "''") + "'"
	sql := fmt.Sprintf("UPDATE gpkg_contents SET description = %s WHERE table_name = '%s'", text, strings.ReplaceAll(l.Name, "'", "''"))
	_, err := ds.ExecuteSQL(sql, vector.Quiet)
	return err
}

// putNulls sets to NULL the attributes that are nil. The library's own way of
// leaving a field out fails when features of one layer leave out different
// ones, so rows are written full and emptied here, still in one transaction.
func (l Layer) putNulls(ds *godal.Dataset) error {
	for column, field := range l.Fields {
		var ids []string
		for i, f := range l.Features {
			if f.Values[column] == nil {
				ids = append(ids, strconv.Itoa(i+1))
			}
		}
		for part := range slices.Chunk(ids, 10000) {
			sql := fmt.Sprintf("UPDATE %s SET %s = NULL WHERE fid IN (%s)",
				quote(l.Name), quote(field.Name), strings.Join(part, ","))
			if _, err := ds.ExecuteSQL(sql, vector.Quiet); err != nil {
				return err
			}
		}
	}
	return nil
}

// quote makes an SQL name of any text.
func quote(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

func (k Kind) ogr() godal.FieldType {
	switch k {
	case Integer:
		return godal.FTInt64
	case Real:
		return godal.FTReal
	case Date:
		return godal.FTDate
	}
	return godal.FTString
}

func (l Layer) geometryType() godal.GeometryType {
	switch {
	case l.Shape == AsFound && len(l.Features) == 0:
		return godal.GTUnknown
	case l.points():
		return godal.GTPoint
	case l.many():
		return godal.GTMultiPolygon
	}
	return godal.GTPolygon
}

// layerWriter puts one layer's features into its table.
type layerWriter struct {
	Layer
	to    godal.Layer
	sr    *godal.SpatialRef
	multi bool
	buf   []byte
}

func (w *layerWriter) put(f Feature) error {
	w.buf = f.wkb(w.buf[:0], w.multi)
	geom, err := godal.NewGeometryFromWKB(w.buf, w.sr, vector.Quiet)
	if err != nil {
		return err
	}
	defer geom.Close()
	row, err := w.to.NewFeature(geom, vector.Quiet)
	if err != nil {
		return err
	}
	defer row.Close()
	if len(f.Values) == 0 {
		return nil
	}
	if err := w.fill(row, f.Values); err != nil {
		return err
	}
	return w.to.UpdateFeature(row, vector.Quiet)
}

func (w *layerWriter) fill(row *godal.Feature, values []any) error {
	columns := row.Fields()
	for i, v := range values {
		field := w.Fields[i]
		column, ok := columns[field.Name]
		if !ok {
			return fmt.Errorf("field %q was refused by the format: choose another name", field.Name)
		}
		if v == nil {
			v = field.Kind.zero()
		}
		plain, err := field.Kind.plain(v)
		if err != nil {
			return fmt.Errorf("field %q: %w", field.Name, err)
		}
		if err := row.SetFieldValue(column, plain, vector.Quiet); err != nil {
			return fmt.Errorf("field %q: %w", field.Name, err)
		}
	}
	return nil
}

// zero stands in for nil until putNulls has run.
func (k Kind) zero() any {
	switch k {
	case Text:
		return ""
	case Date:
		return time.Unix(0, 0).UTC()
	}
	return 0
}

// plain turns a value into the Go type that its kind of column takes.
func (k Kind) plain(v any) (any, error) {
	switch k {
	case Text:
		if s, ok := v.(string); ok {
			return s, nil
		}
	case Integer:
		if n, ok := whole(v); ok {
			return n, nil
		}
	case Real:
		if x, ok := number(v); ok {
			return x, nil
		}
	case Date:
		if d, ok := v.(time.Time); ok {
			return d, nil
		}
	}
	return nil, fmt.Errorf("value %v (%T) does not fit the field's kind", v, v)
}

func whole(v any) (int64, bool) {
	switch n := v.(type) {
	case int:
		return int64(n), true
	case int32:
		return int64(n), true
	case int64:
		return n, true
	}
	return 0, false
}

func number(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, true
	case float32:
		return float64(x), true
	}
	n, ok := whole(v)
	return float64(n), ok
}
