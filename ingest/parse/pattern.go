package parse

import (
	"regexp"
	"sync"
)

// pattern is a regular expression that is compiled when it is first used: a start, such as that of a notebook, should
// not pay in time and memory for what it may never read.
type pattern func() *regexp.Regexp

func later(expression string) pattern {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expression) })
}
