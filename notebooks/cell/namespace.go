package cell

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"go.starlark.net/starlark"
)

// namespaceName is what rewritten programs call the namespace; no cell can write this name.
const namespaceName = "names$"

// namespace is the one value through which rewritten cells reach every global name. It looks among the names
// that cells have set, then Keelmark's, then the language's, at the moment of use: that is what makes a name
// mean what it was last set to.
type namespace struct {
	user starlark.StringDict
	api  starlark.StringDict
	last starlark.Value // value of the running cell's last expression

	noFlock string // said where the name flock means nothing
}

// Hidden names through which rewritten code reaches the guards and leaves the last value.
const (
	lastName   = "$last"
	timesName  = "$times"
	plusName   = "$plus"
	formatName = "$format"
	textName   = "$text"
	listName   = "$list"
	sliceName  = "$slice"
)

var (
	_ starlark.HasSetField = (*namespace)(nil)
)

func (n *namespace) lookup(name string) starlark.Value {
	if v, ok := n.user[name]; ok {
		return v
	}
	if v, ok := n.api[name]; ok {
		return v
	}
	return starlark.Universe[name]
}

// Attr implements starlark.HasAttrs.
func (n *namespace) Attr(name string) (starlark.Value, error) {
	if v := n.lookup(name); v != nil {
		return v, nil
	}
	switch name {
	case timesName:
		return guardTimes, nil
	case plusName:
		return guardPlus, nil
	case listName:
		return guardList, nil
	case sliceName:
		return guardSlice, nil
	case formatName:
		return guardFormat, nil
	case textName:
		return guardText, nil
	}
	return nil, n.unknown(name)
}

// SetField implements starlark.HasSetField.
func (n *namespace) SetField(name string, v starlark.Value) error {
	if name == lastName {
		n.last = v
		if v != starlark.None {
			n.user["_"] = v
		}
		return nil
	}
	n.user[name] = v
	return nil
}

// AttrNames implements starlark.HasAttrs: every name that a cell may use.
func (n *namespace) AttrNames() []string {
	var names []string
	for _, d := range []starlark.StringDict{n.user, n.api, starlark.Universe} {
		for name := range d {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// unknown explains a name that means nothing, with the likeliest one that does.
func (n *namespace) unknown(name string) error {
	if name == "flock" {
		return errors.New(n.noFlock)
	}
	if cure, ok := foreignNames[name]; ok {
		return fmt.Errorf("%s is not a name here; %s", name, cure)
	}
	if f, ok := n.api["flock"].(*flockValue); ok && f != nil {
		if _, isBird := f.data.Bird(name); isBird {
			return fmt.Errorf("%s is a bird, not a name of the cell language; write it in quotes: %q", name, name)
		}
	}
	if near := Nearest(name, n.AttrNames()); near != "" {
		return fmt.Errorf("the name %s is not known; did you mean %s?", name, near)
	}
	return fmt.Errorf("the name %s is not known; set it first (%s = ...), or run the cell that sets it", name, name)
}

// foreignNames are names that users of Python bring along.
var foreignNames = map[string]string{
	"true":       "write True",
	"false":      "write False",
	"null":       "write None",
	"none":       "write None",
	"nan":        "a missing value is None",
	"NaN":        "a missing value is None",
	"ask":        "write input(\"which bird?\")",
	"open":       "a cell can read only the flock that the notebook was started on",
	"pd":         "tables are there already: flock.weights, flock.observations",
	"np":         "sum, mean, median, sd and quantile are there by name",
	"plt":        "figures come from an analysis: growth(flock, bird=\"R12\").figures",
	"math":       "sqrt, exp, log, pow, abs, floor and ceil are there by name",
	"filter":     "write [x for x in list if ...], or where(...) on a table",
	"map":        "write [f(x) for x in list]",
	"format":     "write \"{} g\".format(x), and fixed(x, 1) for decimals",
	"isinstance": "compare type(x) with a text such as \"float\"",
}

// String implements starlark.Value.
func (*namespace) String() string { return "names" }

// Type implements starlark.Value.
func (*namespace) Type() string { return "names" }

// Freeze implements starlark.Value. Names stay open for the next cell.
func (*namespace) Freeze() {}

// Truth implements starlark.Value.
func (*namespace) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (*namespace) Hash() (uint32, error) { return 0, fmt.Errorf("names cannot be a key") }

// Nearest returns the candidate that is most like a name, or "" where none is like it. Case and underscores
// do not count.
func Nearest(name string, candidates []string) string {
	fold := func(s string) string { return strings.ToLower(strings.ReplaceAll(s, "_", "")) }
	x := []rune(fold(name))
	best, least := "", min((len(x)+2)/3+1, len(x)) // at most about a third of the letters wrong
	for _, c := range candidates {
		if strings.HasPrefix(c, "$") || strings.HasPrefix(c, "_") {
			continue
		}
		if d := distance(x, []rune(fold(c))); d < least {
			best, least = c, d
		}
	}
	return best
}

// distance is the number of letters to insert, remove, replace or swap with their neighbour to turn a into b.
// Source: optimal string alignment, the restricted form of Damerau 1964, CACM 7(3) 171-176 (from memory).
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
