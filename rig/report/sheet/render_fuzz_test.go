package sheet

import (
	"strings"
	"testing"
)

func FuzzCSSString(f *testing.F) {
	f.Add(`"; } body { display: none`)
	f.Add("</style>\n")
	f.Fuzz(func(t *testing.T, s string) {
		got := string(cssString(s))
		if in := strings.TrimSuffix(strings.TrimPrefix(got, `"`), `"`); len(got) < 2 || strings.ContainsAny(in, "\"'<>{};\n\r\t") {
			t.Errorf("%q became %q", s, got)
		}
	})
}

func FuzzFileStem(f *testing.F) {
	f.Add("../../etc/passwd")
	f.Add("CON\x00")
	f.Fuzz(func(t *testing.T, s string) {
		got := fileStem(s)
		if got == "" || len(got) > 100 || strings.Trim(got, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" || strings.HasPrefix(got, "-") {
			t.Errorf("%q became %q", s, got)
		}
	})
}
