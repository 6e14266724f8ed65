package analysis

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Counted counts things as a sentence does: "1 bird", "3 birds". Many is the plural of a thing that does not take an s.
func Counted(n int, one string, many ...string) string {
	switch {
	case n == 1:
		return "1 " + one
	case len(many) > 0:
		return fmt.Sprintf("%d %s", n, many[0])
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// Capital starts a text with a capital letter, of any script that has them.
func Capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[size:]
}

// Slug is a name as part of a claim's ID: lower case, without commas, hyphens for spaces.
func Slug(name string) string {
	return strings.NewReplacer(",", "", " ", "-").Replace(strings.ToLower(name))
}
