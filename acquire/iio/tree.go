package iio

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"quern/rig"
)

// Unit is one converter or sensor as the kernel tells of it.
type Unit struct {
	ID    string // iio:device0; the number may change with the order of plugging
	Dir   string // its folder under sys/bus/iio/devices
	Name  string
	Label string
}

// Units lists the converters under root ("/" but for tests), in order of their numbers.
func Units(root string) []Unit {
	dirs, _ := filepath.Glob(filepath.Join(root, "sys/bus/iio/devices/iio:device*")) // the pattern is sound
	number := func(dir string) int {
		n, err := strconv.Atoi(strings.TrimPrefix(filepath.Base(dir), "iio:device"))
		if err != nil {
			return 1 << 30
		}
		return n
	}
	slices.SortFunc(dirs, func(a, b string) int { return cmp.Compare(number(a), number(b)) })
	var out []Unit
	for _, dir := range dirs {
		u := Unit{ID: filepath.Base(dir), Dir: dir}
		u.Name, _ = read(filepath.Join(dir, "name")) // either may be missing
		u.Label, _ = read(filepath.Join(dir, "label"))
		out = append(out, u)
	}
	return out
}

func (u Unit) String() string {
	s := strconv.Quote(u.Name) + " (" + u.ID
	if u.Label != "" {
		s += ", label " + strconv.Quote(u.Label)
	}
	return s + ")"
}

// find returns the converter that is called so; key is where it is named.
func find(root, key, called string) (Unit, error) {
	all := Units(root)
	var is []Unit
	for _, u := range all {
		if called == "" || called == u.Label || called == u.Name || called == u.ID {
			is = append(is, u)
		}
	}
	// A label is there to tell converters of one name apart.
	if i := slices.IndexFunc(is, func(u Unit) bool { return called != "" && u.Label == called }); len(is) > 1 && i >= 0 {
		is = is[i : i+1]
	}
	if len(is) == 1 {
		return is[0], nil
	}
	var names []string
	for _, u := range all {
		names = append(names, u.String())
	}
	e := &rig.FileError{File: key, Byte: -1, Found: strconv.Quote(called), Want: "one of " + strings.Join(names, ", "), Do: "set it to the name or label of the converter"}
	switch {
	case len(all) == 0:
		e.Found, e.Want, e.Do = "no converter under /sys/bus/iio/devices", "one", "plug it in; a converter on a board's own pins needs its driver or overlay"
	case called == "":
		e.Found = fmt.Sprintf("no name, but %d converters", len(all))
	case len(is) > 1:
		e.Found = fmt.Sprintf("%q, which is %d converters", called, len(is))
		e.Do = "set it to a label, or to iio:deviceN while the order of plugging stays the same"
	}
	return Unit{}, e
}

// mostAttribute is the length of an attribute, bytes: the kernel gives no more than a page.
const mostAttribute = 4096

// read returns an attribute without the blanks around it.
func read(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	buf := make([]byte, mostAttribute)
	n, err := f.Read(buf)
	if n == 0 && err != nil && !errors.Is(err, io.EOF) {
		return "", err
	}
	return strings.TrimSpace(strings.TrimRight(string(buf[:n]), "\x00")), nil
}

// readNumber reads an attribute's first number.
func readNumber(path string) (float64, error) {
	s, err := read(path)
	if err != nil {
		return 0, err
	}
	first, _, _ := strings.Cut(s, " ")
	v, err := strconv.ParseFloat(first, 64)
	if err != nil || v-v != 0 { // neither infinite nor not a number
		return 0, &rig.FileError{File: path, Byte: -1, Found: strconv.Quote(s[:min(len(s), 40)]), Want: "a number", Do: "look at what the kernel says of the driver (dmesg)"}
	}
	return v, nil
}

// write sets an attribute.
func write(path, value string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_TRUNC, 0)
	if err == nil {
		_, err = f.WriteString(value)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return explain(path, strconv.Quote(value), err)
	}
	return nil
}

// explain tells what went wrong at a file of the kernel and what to do.
func explain(path, value string, err error) error {
	if told := (*rig.FileError)(nil); errors.As(err, &told) {
		return err
	}
	e := &rig.FileError{File: path, Byte: -1, Found: err.Error(), Want: "that it takes " + value, Do: "look at what the kernel says of the driver (dmesg)", Err: err}
	if value == "" {
		e.Want = "what the converter says"
	}
	switch {
	case errors.Is(err, fs.ErrPermission):
		e.Found, e.Do = "a file that may not be used", "quern devices prints the udev rule that allows it"
	case errors.Is(err, syscall.EBUSY):
		e.Found, e.Do = "a converter that another program uses", "end that program"
	case errors.Is(err, fs.ErrNotExist):
		e.Found, e.Do = "no such file", "plug the converter in; if it is, its driver does not offer this"
	case errors.Is(err, syscall.EINVAL):
		if s, err := read(path + "_available"); err == nil {
			e.Want = "one of " + s
		}
		e.Found = value + ", which is refused"
	case errors.Is(err, syscall.ENODEV):
		e.Found, e.Do = "a converter that has gone", "look at the plug and the cable"
	}
	return e
}

// exists says whether a file is there.
func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
