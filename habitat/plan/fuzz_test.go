package plan

import (
	"bytes"
	"testing"
	"unicode/utf8"
)

// FuzzRead: whatever the bytes, Read neither panics nor hangs; its answer is a
// plan or problems; problems lie inside the text and can be printed; a plan
// that is read is taken by the schema and hashes alike when read again.
func FuzzRead(f *testing.F) {
	for _, pattern := range []string{"good/*.yaml", "bad/*.yaml"} {
		paths, err := globbed(pattern)
		if err != nil {
			f.Fatal(err)
		}
		for _, data := range paths {
			f.Add(data)
		}
	}
	f.Add([]byte("\"\\u0041\": &a [*a]\n? |\n  x\n"))
	s := compiled(f)
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Read("p.yaml", data)
		if err != nil {
			inside(t, err.(Problems), data)
			return
		}
		again, err := Read("p.yaml", bytes.ReplaceAll(data, []byte("\n"), []byte("\r\n")))
		if err != nil || again.Hash() != p.Hash() {
			t.Errorf("with other line ends it reads %v", err)
		}
		if err := s.Validate(asJSON((&reader{}).parse(data))); err != nil {
			t.Errorf("read, and refused by the schema: %v", err)
		}
	})
}

// FuzzLegend: the same for legends.
func FuzzLegend(f *testing.F) {
	for _, text := range []string{"code,name\n1,a\n2,\"b\"\"c\"\n", "\uFEFFname;code\r\na;1\r\n", "code,name\n\"1\n\",x", "code,name\n1,\xff"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		legend, err := ReadLegend("l.csv", data)
		if err != nil {
			inside(t, err.(Problems), data)
			return
		}
		for i, e := range legend {
			if e.Name == "" || i > 0 && e.Code <= legend[i-1].Code {
				t.Errorf("entry %d of %v", i, legend)
			}
		}
	})
}

// inside checks that problems can be shown.
func inside(t *testing.T, ps Problems, data []byte) {
	t.Helper()
	if len(ps) == 0 || !utf8.ValidString(ps.Error()) {
		t.Errorf("%d problems: %q", len(ps), ps.Error())
	}
	count := bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte("\r")) + 1
	for _, p := range ps {
		if p.Line > count || p.Line > 0 && (p.Column < 1 || p.Length < 1 || p.Column > utf8.RuneCountInString(p.Source)+1) || p.Message == "" {
			t.Errorf("%+v", p)
		}
		for _, r := range p.Error() {
			if r != '\n' && r != '\t' && r != utf8.RuneError && hidden(r) {
				t.Errorf("unprintable: %q", p.Error())
			}
		}
	}
}
