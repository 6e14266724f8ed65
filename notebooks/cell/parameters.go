package cell

import (
	"fmt"
	"strings"

	"go.starlark.net/starlark"
	"go.starlark.net/syntax"
)

// Parameter is a name that a cell of parameters sets.
type Parameter struct {
	Name string
	Text bool // its default is a text, so that whatever replaces it is one too: a ring 12 stays "12"
}

// Parameters lists the names that a cell sets, in order.
func Parameters(source string) ([]Parameter, error) {
	f, err := dialect().Parse("parameters", source, 0)
	if err != nil {
		return nil, err
	}
	var out []Parameter
	for _, s := range f.Stmts {
		set, ok := s.(*syntax.AssignStmt)
		if !ok || set.Op != syntax.EQ {
			continue
		}
		if name, ok := set.LHS.(*syntax.Ident); ok {
			l, isLiteral := set.RHS.(*syntax.Literal)
			out = append(out, Parameter{name.Name, isLiteral && l.Token == syntax.STRING})
		}
	}
	return out, nil
}

// Assign writes the line that sets parameters, from names and values as typed on a command line: a number,
// True, False, None, or a list of them stands for itself, everything else is a text. A name that is not among
// the known parameters is an error that lists them.
func Assign(known []Parameter, name, value string) (string, error) {
	var names []string
	for _, p := range known {
		if p.Name == name {
			if p.Text || !isPlain(value) {
				return name + " = " + starlark.String(value).String(), nil
			}
			return name + " = " + value, nil
		}
		names = append(names, p.Name)
	}
	switch near := Nearest(name, names); {
	case len(names) == 0:
		return "", fmt.Errorf("there is no parameter %s: no cell of the notebook is tagged parameters", name)
	case near != "":
		return "", fmt.Errorf("there is no parameter %s; did you mean %s?", name, near)
	}
	return "", fmt.Errorf("there is no parameter %s; there are: %s", name, strings.Join(names, ", "))
}

// isPlain reports whether a text is a value that can stand in a cell as it is and does nothing there.
func isPlain(value string) bool {
	x, err := dialect().ParseExpr("value", value, 0)
	return err == nil && plainExpr(x)
}

func plainExpr(x syntax.Expr) bool {
	switch x := x.(type) {
	case *syntax.Literal:
		return true
	case *syntax.Ident:
		_, ok := constants[x.Name]
		return ok
	case *syntax.UnaryExpr:
		return x.Op == syntax.MINUS && plainExpr(x.X)
	case *syntax.ListExpr:
		for _, item := range x.List {
			if !plainExpr(item) {
				return false
			}
		}
		return true
	}
	return false
}

// Language describes the cell language as notebooks and kernels do.
func Language() map[string]any {
	return map[string]any{"name": "starlark", "version": "1", "file_extension": ".star", "mimetype": "text/x-starlark",
		"pygments_lexer": "python", "codemirror_mode": "python"}
}
