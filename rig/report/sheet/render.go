package sheet

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"quern/rig"
	"quern/rig/intact"
	"quern/rig/live/web"
	"quern/rig/report"
)

//go:embed *.html sheet.css
var sources embed.FS

// frame is what every page has.
type frame struct {
	Title    string
	Margin   template.CSS // in the margin of paper, as a string of CSS
	Day      string
	Tool     string
	Style    template.CSS
	Patterns template.HTML
	Cautions []string
	Body     any
}

// cautions stand on every page.
var cautions = []string{
	"A review bench is not a safety test: nothing here says that a unit is safe to use, to install or to clear.",
	"Before anybody reaches into a grinder: pull the plug, keep it in hand, wait until nothing turns, and use tongs. A motor may restart by itself when its protector closes.",
	"Levels are those at this bench's microphone, on an open bench with the water on. They are not sound power, not what a data sheet declares, and not what a cupboard door lets through. Above 85 dB(A) hearing protection belongs to the work.",
	"One clamp gives current, not power: no watts, no energy, no cost of running can be had from it.",
	"Trips are presumed: current that stops straight out of a long stall or overload looks the same when a hand was on the switch.",
	"Wiring and drains: local electrical and plumbing codes apply, and the work is for licensed people.",
}

// What the templates of tables are given.
type (
	tableView struct {
		Name    string
		Columns []string
		Rows    []figuresRow
	}
	gatesView struct {
		Name  string
		Gates []gateView
	}
)

// finish draws the plots and writes the page and them.
func (b *book) finish(ctx context.Context, stem, sheet, title string, body any) (Made, error) {
	b.veil.Over(body)
	for _, f := range b.plots {
		b.veil.Over(&f.plot)
		b.veil.Over(f)
	}
	title = b.veil.Text(title)
	if err := b.draw(ctx); err != nil {
		return Made{}, err
	}
	style, err := styles()
	if err != nil {
		return Made{}, err
	}
	t, err := template.New("page.html").Funcs(template.FuncMap{
		"add": func(a, b int) int { return a + b },
		"table": func(name string, columns []string, rows []figuresRow) tableView {
			return tableView{name, columns, rows}
		},
		"gates": func(name string, gates []gateView) gatesView { return gatesView{name, gates} },
	}).ParseFS(sources, "page.html", "part_*.html", sheet)
	if err != nil {
		return Made{}, err
	}
	var page bytes.Buffer
	f := frame{Title: title, Margin: cssString(title), Day: b.Day, Tool: b.Tool, Style: style, Patterns: report.StripPatterns, Cautions: cautions, Body: body}
	if err := t.Execute(&page, f); err != nil {
		return Made{}, err
	}
	names, content := b.files()
	names, content = append([]string{stem + ".html"}, names...), append([][]byte{together(tidy(page.Bytes()))}, content...)
	out := Made{Title: title}
	if len(names) > 1 {
		if err := os.MkdirAll(filepath.Join(b.Out, plotsName), 0o755); err != nil {
			return Made{}, unwritable(b.Out, err)
		}
	}
	if err := os.MkdirAll(b.Out, 0o755); err != nil {
		return Made{}, unwritable(b.Out, err)
	}
	for i, name := range names {
		path := filepath.Join(b.Out, name)
		if err := intact.Remade(path, 0o644, intact.Bytes(content[i])); err != nil {
			return Made{}, unwritable(path, err)
		}
		out.Files = append(out.Files, path)
	}
	out.Page = out.Files[0]
	return out, nil
}

// styles are those of the daemon's pages, and what a sheet adds.
func styles() (template.CSS, error) {
	var all strings.Builder
	for _, name := range []string{"base.css", "record.css"} {
		b, err := fs.ReadFile(web.Assets(), name)
		if err != nil {
			return "", fmt.Errorf("report: the style %s is not in this program: %w", name, err)
		}
		all.Write(b)
		all.WriteString("\n")
	}
	b, err := sources.ReadFile("sheet.css")
	if err != nil {
		return "", err
	}
	all.Write(b)
	return template.CSS(all.String()), nil
}

// cssString writes a text as a string of CSS: whatever is no letter or digit of ASCII by its number.
func cssString(s string) template.CSS {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r < 0x80 && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "\\%06x", r)
		}
	}
	b.WriteByte('"')
	return template.CSS(b.String())
}

// tidy drops the white space that templates leave at the ends of lines.
func tidy(b []byte) []byte {
	var out bytes.Buffer
	for line := range bytes.Lines(b) {
		if line = bytes.TrimRight(line, " \t\r\n"); len(bytes.TrimSpace(line)) > 0 {
			out.Write(line)
			out.WriteByte('\n')
		}
	}
	return out.Bytes()
}

// together keeps in a page what belongs on one line: numbers and their units, codes, days.
func together(page []byte) []byte {
	var out bytes.Buffer
	as := "" // the end of an element that is left as it is
	for len(page) > 0 {
		n := bytes.IndexByte(page, '<')
		if n < 0 {
			n = len(page)
		}
		if text := page[:n]; as != "" {
			out.Write(text)
		} else {
			out.WriteString(report.TogetherHTML(string(text)))
		}
		page = page[n:]
		n = bytes.IndexByte(page, '>') + 1
		if n == 0 {
			n = len(page)
		}
		tag := string(page[:n])
		if as == "" {
			for _, name := range []string{"style", "title", "svg", "code"} {
				if strings.HasPrefix(tag, "<"+name+">") || strings.HasPrefix(tag, "<"+name+" ") {
					as = "</" + name + ">"
				}
			}
		} else if tag == as {
			as = ""
		}
		out.WriteString(tag)
		page = page[n:]
	}
	return out.Bytes()
}

// unwritable says that something cannot be written.
func unwritable(path string, err error) error {
	return &rig.FileError{File: path, Byte: -1, Found: rig.Closed(err), Want: "a folder that can be written to", Do: "name another with --out", Err: err}
}
