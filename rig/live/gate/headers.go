package gate

import (
	"net/http"
	"strings"
	"unicode"
	"unicode/utf8"
)

// policy lets pages load what the daemon serves, and nothing else; nothing is inline.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self'; connect-src 'self'; " +
	"font-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// powers are what pages may use of the device: a tablet stays awake and fills its screen.
const powers = "screen-wake-lock=(self), fullscreen=(self), autoplay=(self), camera=(), microphone=(), geolocation=(), payment=(), usb=(), serial=(), " +
	"hid=(), bluetooth=(), midi=(), display-capture=(), accelerometer=(), gyroscope=(), magnetometer=()"

func setHeaders(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "same-origin") // with no-referrer a browser sends our own forms with Origin: null
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", powers)
	h.Set("Cache-Control", "no-store") // what may be kept says so itself
}

// SafeName returns whether a name from a request can be the name of one thing in a folder: no path, nothing
// hidden, nothing that a terminal would obey. Even then it is compared with names that exist, never joined.
func SafeName(name string) bool {
	return name != "" && len(name) <= 255 && name[0] != '.' && utf8.ValidString(name) &&
		!strings.ContainsFunc(name, func(c rune) bool { return c == '/' || c == '\\' || !unicode.IsPrint(c) })
}
