package habitat

import "testing"

func TestReplacePath(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{`map "soil": in/a.tif: band 1`, `map "soil": a.tif: band 1`},
		{"in/a.tif", "a.tif"},
		{"main/a.tif and in/a.tif.", "main/a.tif and a.tif."},
		{"/x/in/a.tif, in/a.tiff", "/x/in/a.tif, in/a.tiff"},
	} {
		if got := replacePath(c.text, "in/a.tif", "a.tif"); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

func TestFromPlan(t *testing.T) {
	for _, c := range []struct{ dir, file, want string }{
		{".", "in/a.tif", "in/a.tif"},
		{"plans", "plans/in/a.tif", "in/a.tif"},
		{"plans", "in/a.tif", "../in/a.tif"},
		{"/p/plans", "/p/in/a.tif", "../in/a.tif"},
	} {
		d := desk{dir: c.dir}
		if got := d.fromPlan(c.file); got != c.want {
			t.Errorf("%s from %s: %s, want %s", c.file, c.dir, got, c.want)
		}
	}
}
