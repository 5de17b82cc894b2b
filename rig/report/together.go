package report

import (
	"html"
	"html/template"
	"regexp"
	"strings"
	"unicode/utf8"
)

// Together writes a text for a page so that its lines break where a reader expects it: never between a number and its
// unit ("±0.028 / s"), and never within a code or a day ("unit- / a").
func Together(text string) template.HTML { return template.HTML(TogetherHTML(html.EscapeString(text))) }

// TogetherHTML is [Together] for text that stands in HTML already.
func TogetherHTML(text string) string {
	text = beforeUnit.ReplaceAllString(text, "$1\u00a0$2")
	if !strings.Contains(text, "-") {
		return text
	}
	return hyphened.ReplaceAllStringFunc(text, func(word string) string {
		if utf8.RuneCountInString(word) > longestCode {
			return word
		}
		return `<span class="together">` + word + `</span>`
	})
}

// longestCode is the longest word that is kept whole. Names of sessions are longer, and may break: else a phone could
// not show them.
const longestCode = 24

var (
	beforeUnit = regexp.MustCompile(`(\d) ((?:%|dB(?:\([AC]\))?|m?s|min|As?|V|k?Hz|k?g|oz|lb|L/min|degC)(?:[\s,;:.)]|$))`)
	hyphened   = regexp.MustCompile(`[\pL\pN._]+(?:-[\pL\pN._]+)+`)
)
