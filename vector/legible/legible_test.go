package legible

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"
)

func Example() {
	fmt.Printf("%q\n", Line("  oak\t bank\n\x1b[31mred\u202egpj.exe "))
	fmt.Printf("%q\n", Text("one \r\n\r\n two\a\n"))
	fmt.Printf("%q\n", Short("Ellerdown Hills", 10))
	// Output:
	// "oak bank [31mredgpj.exe"
	// "one\n\ntwo"
	// "Ellerdown…"
}

func TestLine(t *testing.T) {
	for in, want := range map[string]string{
		"":                                 "",
		"\u200fעץ\u200e ירוק":              "עץ ירוק",
		"a\u0000b\u0085c\u2028d\ufeffe":    "ab c de",
		"tag<b>&\"'":                       "tag<b>&\"'",
		"می\u200cخواهم":                    "می\u200cخواهم", // a non-joiner belongs to the spelling
		"Ł \u00a0ж\u2066x\u2069":           "Ł жx",
		"\ue000private\ufffe\U0010ffff":    "private",
		"=1+1":                             "=1+1",
		strings.Repeat(" wide ", 3) + "\v": "wide wide wide",
	} {
		if got := Line(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	if got := Line("bad \xff\xfe bytes"); !utf8.ValidString(got) {
		t.Errorf("%q is no UTF-8", got)
	}
}

func TestShort(t *testing.T) {
	if got := Short("äöü", 3); got != "äöü" {
		t.Error(got)
	}
	if got := Short("äöüß", 3); got != "äö…" {
		t.Error(got)
	}
}
