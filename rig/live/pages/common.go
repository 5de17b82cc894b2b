package pages

import (
	"net/http"
	"strings"
)

// commonPages are files of the pages, and the choice of light and dark.
func (s *Site) commonPages() []page {
	return []page{
		open("GET /assets/{name}", s.assets.serve),
		open("POST /theme", theme),
	}
}

const themeCookie = "quern-theme"

// themeOf returns the theme that somebody chose: light or dark, or "" for what the device says.
func themeOf(r *http.Request) string {
	c, err := r.Cookie(themeCookie)
	if err != nil || c.Value != "light" && c.Value != "dark" {
		return ""
	}
	return c.Value
}

// theme keeps a choice of theme for a year, and goes back to where it was made.
func theme(w http.ResponseWriter, r *http.Request) {
	c := &http.Cookie{Name: themeCookie, Value: r.PostFormValue("theme"), Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteLaxMode}
	if c.Value != "light" && c.Value != "dark" {
		c.Value, c.MaxAge = "", -1
	}
	http.SetCookie(w, c)
	http.Redirect(w, r, within(r.PostFormValue("back")), http.StatusSeeOther)
}

// within returns an address of ours, whatever a form says.
func within(back string) string {
	if !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.ContainsAny(back, "\\\r\n\t") || len(back) > 2000 {
		return "/"
	}
	return back
}
