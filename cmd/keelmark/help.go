package main

import (
	"fmt"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
	"keelmark/notebooks/cell"
)

const overviewHead = `keelmark turns a keeper's own spreadsheets of exhibition fowl into evidence.

    keelmark demo DIR        write an invented flock and its report to DIR: the first thing to run
    keelmark FILE|FOLDER...  check the records and print the entry report; says where the pages are

`

const overviewFoot = `
keelmark help COMMAND tells more, with examples. Nothing is sent anywhere and no file of yours is changed.
`

func overview() string {
	var b strings.Builder
	b.WriteString(overviewHead)
	for _, v := range verbs() {
		fmt.Fprintf(&b, "    %-10s %s\n", v.name, v.brief)
	}
	for _, t := range topics() {
		fmt.Fprintf(&b, "    help %-10s %s\n", t.name, t.brief)
	}
	b.WriteString(overviewFoot)
	return b.String()
}

// topic is a page of help that is not a verb.
type topic struct {
	name, brief string
	text        func() (string, error)
}

func help(w world, args []string) (int, error) {
	switch len(args) {
	case 0:
		fmt.Fprint(w.out, overview())
		return exitDone, nil
	case 1:
	default:
		return 0, usage("help takes one word: keelmark help %s", args[0])
	}
	for _, v := range verbs() {
		if v.name == args[0] {
			_, err := fmt.Fprint(w.out, v.help)
			return exitDone, err
		}
	}
	for _, t := range topics() {
		if t.name == args[0] {
			text, err := t.text()
			if err != nil {
				return 0, err
			}
			_, err = fmt.Fprint(w.out, text)
			return exitDone, err
		}
	}
	for _, s := range catalog.All() {
		if s.Name == args[0] {
			_, err := fmt.Fprint(w.out, specHelp(s))
			return exitDone, err
		}
	}
	return 0, usage("there is no help on %q%s", args[0], didYouMean(args[0], helpNames()))
}

// specHelp is the page of one analysis, made from its declaration.
func specHelp(s analysis.Spec) string {
	var b strings.Builder
	fmt.Fprintf(&b, "keelmark analyse %s SOURCE...\n\n%s\n\n%s\n", s.Name, s.Title, strings.TrimSpace(s.Doc))
	if len(s.Params) > 0 {
		b.WriteString("\nOptions:\n")
	}
	for _, p := range s.Params {
		unit := ""
		if p.Unit != "" {
			unit = " [" + p.Unit + "]"
		}
		fmt.Fprintf(&b, "    --%s%s  %s%s\n", flagName(p.Name), unit, p.Doc, defaultText(p.Default))
	}
	return b.String()
}

func helpNames() []string {
	names := verbNames()
	for _, t := range topics() {
		names = append(names, t.name)
	}
	for _, s := range catalog.All() {
		names = append(names, s.Name)
	}
	return names
}

// didYouMean returns "; did you mean X?" for the nearest known word, or "".
func didYouMean(word string, known []string) string {
	if near := cell.Nearest(word, known); near != "" {
		return fmt.Sprintf("; did you mean %s?", near)
	}
	return ""
}
