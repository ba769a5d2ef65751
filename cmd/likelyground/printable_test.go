package main

import (
	"encoding/json"
	"testing"
	"unicode"
	"unicode/utf8"
)

// FuzzPrintable: whatever a map carries, what is said moves no cursor, and
// what is answered in JSON reads back the same.
func FuzzPrintable(f *testing.F) {
	for _, seed := range []string{"plain", "\x1b[31m", "\u009b2J", "a\u202eb", "\x01b\x01", "\U000e0001", "\xff\x00", "\r"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, r := range printable(text) {
			if r != '\n' && r != '\t' && r != '\x1b' && !unicode.IsPrint(r) {
				t.Errorf("%q is said with %U", text, r)
			}
		}
		data, err := json.Marshal(text)
		if err != nil {
			t.Fatal(err)
		}
		answered := escaped(data)
		for _, r := range answered {
			if !unicode.IsPrint(r) {
				t.Errorf("%q is answered with %U", text, r)
			}
		}
		var back string
		if err := json.Unmarshal([]byte(answered), &back); err != nil || utf8.ValidString(text) && back != text {
			t.Errorf("%q reads back as %q, %v", text, back, err)
		}
	})
}
