package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// optionError tells in the house's words what is wrong with an option: what was found, what was
// expected, where to look. The library's own words would show the inside of the program.
func optionError(c *cobra.Command, err error) error {
	say := func(found, want string) error {
		return usageError{fmt.Errorf("%sfound %s, expected %s; see '%s --help'", verb(c), found, want, c.CommandPath())}
	}
	var (
		value   *pflag.InvalidValueError
		needs   *pflag.ValueRequiredError
		unknown *pflag.NotExistError
		syntax  *pflag.InvalidSyntaxError
	)
	switch {
	case errors.As(err, &value) && errors.Is(err, errTwice):
		return say("--"+value.GetFlag().Name+" twice", "it once")
	case errors.As(err, &value):
		return say(fmt.Sprintf("--%s %q", value.GetFlag().Name, value.GetValue()), kindOf(value.GetFlag(), errors.Is(err, strconv.ErrRange)))
	case errors.As(err, &needs):
		return say("--"+needs.GetFlag().Name+" with nothing after it", kindOf(needs.GetFlag(), false))
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() != "":
		return say(fmt.Sprintf("%q", "-"+unknown.GetSpecifiedShortnames()), "a known option: they are whole words after two dashes")
	case errors.As(err, &unknown):
		return say(fmt.Sprintf("%q", "--"+unknown.GetSpecifiedName()), "a known option"+closest(c, unknown.GetSpecifiedName()))
	case errors.As(err, &syntax):
		return say(fmt.Sprintf("%q", syntax.GetSpecifiedFlag()), "an option such as --help")
	}
	return usageError{fmt.Errorf("%s%w; see '%s --help'", verb(c), err, c.CommandPath())}
}

// meant names the commands that were probably meant by a word.
func meant(c *cobra.Command, typed string) string {
	if like := c.SuggestionsFor(typed); len(like) > 0 {
		return ", perhaps " + strings.Join(like, " or ")
	}
	return ""
}

// once refuses an option that takes one value and is given twice: the first value would be lost without a word.
func once(c *cobra.Command) {
	c.Flags().VisitAll(func(f *pflag.Flag) {
		switch f.Value.Type() {
		case "stringArray", "stringSlice", "bool":
			return
		}
		f.Value = &single{Value: f.Value}
	})
}

// single is the value of an option that may be given once.
type single struct {
	pflag.Value
	given bool
}

func (s *single) Set(text string) error {
	if s.given {
		return errTwice
	}
	s.given = true
	return s.Value.Set(text)
}

var errTwice = errors.New("given twice")

// kindOf says what an option takes. far says that a number was found, but one beyond all that fit.
func kindOf(f *pflag.Flag, far bool) string {
	switch f.Value.Type() {
	case "int":
		if far {
			return "a smaller number"
		}
		return "a whole number"
	case "uint", "uint64":
		return "a whole number, 0 or more"
	case "float64":
		return "a number such as 41.5"
	case "duration":
		return "a length of time such as 90s or 2h30m"
	case "bool":
		return "--" + f.Name + " alone, or with =true or =false"
	case "stringSlice":
		return "words with commas between them"
	}
	return "a value"
}

// closest names the option that was probably meant: one that begins with what was typed, or that was
// typed with something more behind it.
func closest(c *cobra.Command, typed string) string {
	var like []string
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if typed != "" && !f.Hidden && (strings.HasPrefix(f.Name, typed) || strings.HasPrefix(typed, f.Name)) {
			like = append(like, "--"+f.Name)
		}
	})
	if len(like) == 0 {
		return ""
	}
	return ", perhaps " + strings.Join(like, " or ")
}

// verb begins a message: a command as it is typed, without the program's name.
func verb(c *cobra.Command) string {
	if _, name, ok := strings.Cut(c.CommandPath(), " "); ok {
		return name + ": "
	}
	return ""
}

// arguments makes the failure of a library's check of the arguments a usage error in the house's words.
func arguments(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if check(c, args) == nil {
			return nil
		}
		least, most := takes(c, check)
		want := count(least)
		switch {
		case most < 0:
			want += " or more"
		case most > least:
			want = fmt.Sprintf("%d to %s", least, count(most))
		}
		found := count(len(args))
		switch {
		case most == 0:
			found, want = fmt.Sprintf("%q", args[0]), "only options"
		case len(args) > 0:
			found += fmt.Sprintf(" (%s)", strings.Join(quoted(args), ", "))
		}
		return usageError{fmt.Errorf("%sfound %s, expected %s; usage: %s", verb(c), found, want, strings.TrimSuffix(c.UseLine(), " [flags]"))}
	}
}

// takes tries how many arguments a check lets pass; most is -1 where there is no end to them.
func takes(c *cobra.Command, check cobra.PositionalArgs) (least, most int) {
	const tried = 8
	least, most = -1, -1
	for n := range tried {
		if check(c, make([]string, n)) != nil {
			continue
		}
		if most = n; least < 0 {
			least = n
		}
	}
	if most == tried-1 {
		most = -1
	}
	return max(least, 0), most
}

func count(n int) string {
	switch n {
	case 0:
		return "no argument"
	case 1:
		return "1 argument"
	}
	return fmt.Sprintf("%d arguments", n)
}

// listed lists what may be chosen.
func listed[S ~string](all []S) string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = string(s)
	}
	return strings.Join(out, ", ")
}

func quoted(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = strconv.Quote(w)
	}
	return out
}

// ownWords gives the verbs that the library adds itself, help and completion, the same errors.
func ownWords(root *cobra.Command) {
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		switch c.Name() {
		case "help":
			c.Args = func(_ *cobra.Command, args []string) error {
				if found, _, err := root.Find(args); err != nil || found == nil || len(args) > 0 && found == root {
					return usageError{fmt.Errorf("help: found %q, expected a command; see 'quern --help'", strings.Join(args, " "))}
				}
				return nil
			}
		case "completion":
			c.Args = arguments(cobra.NoArgs)
			c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() } // what cannot run has no arguments checked
			for _, shell := range c.Commands() {
				shell.Args = arguments(cobra.NoArgs)
			}
		}
	}
}
