package plan

import (
	"path/filepath"
	"reflect"
	"testing"
)

func TestReadLegend(t *testing.T) {
	want := Legend{{Code: -1, Name: "no data, really"}, {Code: 1, Name: "broadleaf"}, {Code: 2, Name: "broadleaf"}, {Code: 3, Name: `the "old" heath`}}
	for what, text := range map[string]string{
		"commas":     "code,name\n3,\"the \"\"old\"\" heath\"\n1,broadleaf\n2,broadleaf\n-1,\"no data, really\"\n",
		"semicolons": "code;name\n3;\"the \"\"old\"\" heath\"\n1;broadleaf\n2;broadleaf\n-1;no data, really\n",
		"other way":  "Name , CODE\r\n\"the \"\"old\"\" heath\", 3\r\nbroadleaf,1\r\n broadleaf ,+2\r\n\r\n\"no data, really\",-1",
		"BOM, more":  "\uFEFF\nred,code,name,note\n9,3,\"the \"\"old\"\" heath\",x\n0,1,broadleaf,\n0,2,broadleaf\n0,-1,\"no data, really\",\"a\nb\"\n",
	} {
		got, err := ReadLegend("l.csv", []byte(text))
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v %v", what, got, err)
		}
	}
	if codes := want.Codes("broadleaf"); !reflect.DeepEqual(codes, []int32{1, 2}) {
		t.Errorf("codes %v", codes)
	}
	if name, ok := want.Name(3); !ok || name != `the "old" heath` {
		t.Errorf("name %q", name)
	}
	if names := want.Names(); len(names) != 3 || names[1] != "broadleaf" {
		t.Errorf("names %q", names)
	}
}

// TestLegendGroups: levels are read from the widest on, whatever the order of
// their columns.
func TestLegendGroups(t *testing.T) {
	for text, want := range map[string]Legend{
		"code,name,group\n2,oak,forest\n1,heath,\n": {{Code: 1, Name: "heath"}, {Code: 2, Name: "oak", Groups: []LegendGroup{{"forest", 1}}}},
		"Group_2;code;Group 1;name\nforest;2;wild;oak\n;1;wild;heath\n": {
			{Code: 1, Name: "heath", Groups: []LegendGroup{{"wild", 2}}}, {Code: 2, Name: "oak", Groups: []LegendGroup{{"forest", 1}, {"wild", 2}}}},
		"text,name,group1\nzVz,clay,heavy\nhVb,peat\n": {{Text: "zVz", Name: "clay", Groups: []LegendGroup{{"heavy", 1}}}, {Text: "hVb", Name: "peat"}},
	} {
		got, err := ReadLegend("l.csv", []byte(text))
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %+v %v", text, got, err)
		}
	}
	l, err := ReadLegend("l.csv", []byte("code,name,group 1,group 2\n1,oak,wild,forest\n2,pine,wild,forest\n3,bog,wild,\n"))
	if got := l.GroupNames(); err != nil || !reflect.DeepEqual(got, []string{"forest", "wild"}) {
		t.Errorf("groups %q %v", got, err)
	}
}

// TestLegendMessages holds what is said of wrong legends against a golden
// file.
func TestLegendMessages(t *testing.T) {
	all := ""
	for _, text := range []string{
		"code,name\n1,broadleaf\n2,heath\n1,water\n",
		"1,broadleaf\n2,heath\n",
		"code,name\none,broadleaf\n2.5,heath\n3,\n99999999999,x\n-2147483648,y\n",
		"code,name\n1\n",
		"code,name\n1,\"broadleaf\n2,heath\n",
		"code,name\n",
		"",
		"code,name\n1,\xe9\n",
		"code,name\n1,bell\x07\n",
		"code,name\n1,a\x00\n",
		"code,name,group,group 1\n1,a,b,c\n",
		"code,name,group 2,group_2\n1,a,b,c\n",
		"code,name,group\n1,a,b\x07\n",
		"text,name\nzVz,clay\nzVz,peat\n,mud\n",
	} {
		legend, err := ReadLegend("legend.csv", []byte(text))
		if err == nil {
			t.Fatalf("%q is read as %v", text, legend)
		}
		all += err.Error() + "\n\n"
	}
	golden(t, filepath.Join("testdata", "legend.txt"), all)
}
