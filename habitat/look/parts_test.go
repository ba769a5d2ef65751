package look

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestPartsHint: numbered fields of classes with shares beside them are
// proposed as parts; anything else is not.
func TestPartsHint(t *testing.T) {
	for _, c := range []struct{ properties, want string }{
		{`"soil1":"sand","share1":60,"soil2":"clay","share2":30,"soil3":"peat"`, "[{field: soil1, share: share1}, {field: soil2, share: share2}, {field: soil3}]"},
		{`"comp1_code":4,"comp1_pct":60.5,"comp2_code":5,"comp2_pct":39.5`, "[{field: comp1_code, share: comp1_pct}, {field: comp2_code, share: comp2_pct}]"},
		{`"rock_1":"lime","rock_2":"chalk"`, ""},
		{`"soil1":"sand","share1":600,"soil2":"clay","share2":30`, ""},
		{`"soil1":"sand","share1":60,"soil":"clay","share":40`, ""},
	} {
		var list []string
		for i := range 3 {
			list = append(list, fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"Polygon","coordinates":[[[%d,0],[%d,1],[0,1],[%d,0]]]}}`, c.properties, i, i, i))
		}
		path := filepath.Join(t.TempDir(), "map.geojson")
		if err := os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(list, ",")+`]}`), 0o644); err != nil {
			t.Fatal(err)
		}
		m, err := File(path)
		if err != nil {
			t.Fatal(err)
		}
		line := ""
		if c.want != "" {
			line = "    # parts: " + c.want + "   # in place of field: if each polygon is of several classes\n"
		}
		if got := m.Plan; strings.Contains(got, "parts:") != (c.want != "") || !strings.Contains(got, line) {
			t.Errorf("%s:\n%swant\n%s", c.properties, got, line)
		}
	}
}
