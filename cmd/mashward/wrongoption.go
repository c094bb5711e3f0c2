package main

import (
	"flag"
	"fmt"
	"regexp"
	"strings"

	"mashward/profile/strict"
)

var (
	unknownOption = regexp.MustCompile(`^flag provided but not defined: -(.*)$`)
	emptyOption   = regexp.MustCompile(`^flag needs an argument: -(.*)$`)
	wrongValue    = regexp.MustCompile(`(?s)^invalid (?:boolean )?value "(.*)" for (?:flag )?-([^:]+): (.*)$`)
)

// wrong says in the words of this program what is wrong with an option, with the
// one that was most likely meant. What the flag package has found and no pattern
// fits is passed on as it is.
func (o *options) wrong(err error) error {
	text := err.Error()
	if m := unknownOption.FindStringSubmatch(text); m != nil {
		text = fmt.Sprintf("there is no option --%s", m[1])
		if near := strict.Nearest(m[1], o.names()); near != "" {
			text += fmt.Sprintf("; do you mean --%s?", near)
		}
	} else if m := emptyOption.FindStringSubmatch(text); m != nil {
		text = fmt.Sprintf("--%s needs %s behind it", m[1], o.takes(m[1]))
	} else if m := wrongValue.FindStringSubmatch(text); m != nil {
		text = fmt.Sprintf("--%s %s: %s", m[2], m[1], m[3])
		if m[3] == "parse error" || m[3] == "value out of range" {
			text = fmt.Sprintf("--%s %s: write %s", m[2], m[1], o.takes(m[2]))
		}
	}
	return usage("%s: %s; `mashward %s --help` lists the options", o.Name(), text, o.Name())
}

// names are the options that the help lists.
func (o *options) names() (names []string) {
	o.VisitAll(func(f *flag.Flag) { names = append(names, f.Name) })
	return names
}

// takes is what an option wants behind it, in words.
func (o *options) takes(name string) string {
	f := o.Lookup(name)
	if f == nil {
		return "a value"
	}
	what, _ := flag.UnquoteUsage(f)
	switch what {
	case "":
		return "nothing, or =true or =false"
	case "int", "uint":
		return "a whole number"
	case "float":
		return "a number"
	case "string":
		return "a word"
	}
	article := "a"
	if strings.ContainsAny(what[:1], "aeiou") {
		article = "an"
	}
	return article + " " + strings.ToLower(what)
}
