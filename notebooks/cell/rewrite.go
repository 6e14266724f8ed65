package cell

import (
	"fmt"

	"go.starlark.net/resolve"
	"go.starlark.net/starlark"
	"go.starlark.net/syntax"
)

// rewrite turns each global name of a parsed cell into an attribute of the namespace value, so that it is
// looked up when it is used: a function sees the newest value of a name, whichever cell set it. It also
// guards the operations that can take much memory in one step.
//
// Where display is wanted and the cell ends in an expression, the value of that expression is kept; rewrite
// reports whether it was.
//
// The interpreter's own REPL entry copies globals into each chunk instead: a function there keeps the value
// that a name had when its cell ran, silently. resolve.REPLChunk and resolve.Binding are used in this file
// only, since their interface is not promised to be stable.
func rewrite(f *syntax.File, display bool) (shows bool, err error) {
	never := func(string) bool { return false }
	constant := func(name string) bool { return name == "None" || name == "True" || name == "False" }
	if err := resolve.REPLChunk(f, func(name string) bool { return !constant(name) }, never, constant); err != nil {
		return false, err
	}
	w := rewriter{file: f}
	if last, ok := f.Stmts[len(f.Stmts)-1].(*syntax.ExprStmt); ok && display {
		start, _ := last.Span()
		f.Stmts[len(f.Stmts)-1] = &syntax.AssignStmt{OpPos: start, Op: syntax.EQ, LHS: w.name(lastName, start), RHS: last.X}
		shows = true
	}
	f.Stmts = w.stmts(f.Stmts)
	return shows, w.err
}

type rewriter struct {
	file *syntax.File
	err  error
}

// name is the expression NAMESPACE.name.
func (w *rewriter) name(name string, pos syntax.Position) syntax.Expr {
	return &syntax.DotExpr{
		X: &syntax.Ident{NamePos: pos, Name: namespaceName}, Dot: pos, NamePos: pos,
		Name: &syntax.Ident{NamePos: pos, Name: name},
	}
}

// call is the expression NAMESPACE.fn(x).
func (w *rewriter) call(fn string, pos syntax.Position, x syntax.Expr) syntax.Expr {
	return &syntax.CallExpr{Fn: w.name(fn, pos), Lparen: pos, Args: []syntax.Expr{x}, Rparen: pos}
}

func (w *rewriter) stmts(in []syntax.Stmt) []syntax.Stmt {
	var out []syntax.Stmt
	for _, s := range in {
		out = append(out, s)
		if set := w.stmt(s); set != nil {
			out = append(out, set)
		}
	}
	return out
}

// stmt rewrites a statement. After a global def it returns the statement that puts the function among the
// names.
func (w *rewriter) stmt(s syntax.Stmt) syntax.Stmt {
	switch s := s.(type) {
	case *syntax.ExprStmt:
		s.X = w.expr(s.X)
	case *syntax.AssignStmt:
		s.RHS = w.expr(s.RHS)
		switch s.Op {
		case syntax.PLUS_EQ, syntax.PIPE_EQ:
			if !small(s.RHS) {
				s.RHS = w.call(plusName, s.OpPos, s.RHS)
			}
		case syntax.STAR_EQ:
			s.RHS = w.call(timesName, s.OpPos, s.RHS)
		case syntax.PERCENT_EQ:
			id, ok := s.LHS.(*syntax.Ident)
			if !ok {
				w.fail(s.OpPos, "%= works on a plain name only; write it out: x = x % y")
				return nil
			}
			left := w.call(formatName, s.OpPos, w.expr(&syntax.Ident{NamePos: id.NamePos, Name: id.Name, Binding: id.Binding}))
			s.Op, s.RHS = syntax.EQ, &syntax.BinaryExpr{X: left, OpPos: s.OpPos, Op: syntax.PERCENT, Y: s.RHS}
		}
		s.LHS = w.target(s.LHS)
	case *syntax.DefStmt:
		global := isGlobal(s.Name)
		w.params(s.Params)
		s.Body = w.stmts(s.Body)
		if global {
			w.constant(s.Name)
			return &syntax.AssignStmt{OpPos: s.Name.NamePos, Op: syntax.EQ,
				LHS: w.name(s.Name.Name, s.Name.NamePos), RHS: &syntax.Ident{NamePos: s.Name.NamePos, Name: s.Name.Name}}
		}
	case *syntax.IfStmt:
		s.Cond = w.expr(s.Cond)
		s.True = w.stmts(s.True)
		s.False = w.stmts(s.False)
	case *syntax.ForStmt:
		s.X = w.expr(s.X)
		s.Vars = w.target(s.Vars)
		s.Body = w.stmts(s.Body)
	case *syntax.WhileStmt:
		s.Cond = w.expr(s.Cond)
		s.Body = w.stmts(s.Body)
	case *syntax.ReturnStmt:
		s.Result = w.expr(s.Result)
	case *syntax.LoadStmt:
		w.fail(s.Load, "load is not offered here: a cell reads only the flock that the notebook was started on")
	}
	return nil
}

func isGlobal(id *syntax.Ident) bool {
	b, ok := id.Binding.(*resolve.Binding)
	return ok && b.Scope == resolve.Global
}

func (w *rewriter) fail(pos syntax.Position, message string) {
	if w.err == nil {
		w.err = syntax.Error{Pos: pos, Msg: message}
	}
}

// constant refuses to set True, False and None.
func (w *rewriter) constant(id *syntax.Ident) {
	if _, ok := constants[id.Name]; ok {
		w.fail(id.NamePos, fmt.Sprintf("%s is a fixed word and cannot be set; choose another name", id.Name))
	}
}

var constants = starlark.StringDict{"None": starlark.None, "True": starlark.True, "False": starlark.False}

// target rewrites what is assigned to.
func (w *rewriter) target(x syntax.Expr) syntax.Expr {
	switch x := x.(type) {
	case *syntax.Ident:
		w.constant(x)
	case *syntax.ParenExpr:
		x.X = w.target(x.X)
		return x
	case *syntax.TupleExpr:
		for i := range x.List {
			x.List[i] = w.target(x.List[i])
		}
		return x
	case *syntax.ListExpr:
		for i := range x.List {
			x.List[i] = w.target(x.List[i])
		}
		return x
	}
	return w.expr(x)
}

// params rewrites the defaults of parameters; the parameters themselves are local.
func (w *rewriter) params(params []syntax.Expr) {
	for _, p := range params {
		if b, ok := p.(*syntax.BinaryExpr); ok && b.Op == syntax.EQ {
			b.Y = w.expr(b.Y)
		}
	}
}

func (w *rewriter) exprs(list []syntax.Expr) {
	for i := range list {
		list[i] = w.expr(list[i])
	}
}

func (w *rewriter) expr(x syntax.Expr) syntax.Expr {
	switch x := x.(type) {
	case nil, *syntax.Literal:
	case *syntax.Ident:
		if isGlobal(x) {
			return w.name(x.Name, x.NamePos)
		}
	case *syntax.ParenExpr:
		x.X = w.expr(x.X)
	case *syntax.CallExpr:
		w.callExpr(x)
	case *syntax.DotExpr:
		x.X = w.expr(x.X)
		switch x.Name.Name {
		case "join", "replace", "format", "split", "rsplit", "splitlines": // methods by which a text can make a huge one, or a huge list
			x.X = w.call(textName, x.Dot, x.X)
		case "extend":
			x.X = w.call(listName, x.Dot, x.X)
		}
	case *syntax.Comprehension:
		w.comprehension(x)
	case *syntax.DictExpr:
		w.exprs(x.List)
	case *syntax.DictEntry:
		x.Key, x.Value = w.expr(x.Key), w.expr(x.Value)
	case *syntax.LambdaExpr:
		w.params(x.Params)
		x.Body = w.expr(x.Body)
	case *syntax.ListExpr:
		w.exprs(x.List)
	case *syntax.TupleExpr:
		w.exprs(x.List)
	case *syntax.CondExpr:
		x.Cond, x.True, x.False = w.expr(x.Cond), w.expr(x.True), w.expr(x.False)
	case *syntax.UnaryExpr:
		x.X = w.expr(x.X)
	case *syntax.BinaryExpr:
		x.X, x.Y = w.expr(x.X), w.expr(x.Y)
		switch {
		case (x.Op == syntax.PLUS || x.Op == syntax.PIPE) && !small(x.X) && !small(x.Y):
			x.Y = w.call(plusName, x.OpPos, x.Y)
		case x.Op == syntax.STAR && !smallNumber(x.X) && !smallNumber(x.Y):
			x.Y = w.call(timesName, x.OpPos, x.Y)
		case x.Op == syntax.PERCENT:
			x.X = w.call(formatName, x.OpPos, x.X)
		}
	case *syntax.IndexExpr:
		x.X, x.Y = w.expr(x.X), w.expr(x.Y)
	case *syntax.SliceExpr:
		x.X, x.Lo, x.Hi, x.Step = w.call(sliceName, x.Lbrack, w.expr(x.X)), w.expr(x.Lo), w.expr(x.Hi), w.expr(x.Step)
	default:
		start, _ := x.Span()
		w.fail(start, fmt.Sprintf("%T is not known to this version of the cell engine", x))
	}
	return x
}

func (w *rewriter) callExpr(x *syntax.CallExpr) {
	x.Fn = w.expr(x.Fn)
	for i, a := range x.Args {
		if b, ok := a.(*syntax.BinaryExpr); ok && b.Op == syntax.EQ {
			b.Y = w.expr(b.Y) // name=value: the name is the callee's
			continue
		}
		x.Args[i] = w.expr(a)
	}
}

func (w *rewriter) comprehension(x *syntax.Comprehension) {
	x.Body = w.expr(x.Body)
	for _, c := range x.Clauses {
		switch c := c.(type) {
		case *syntax.ForClause:
			c.Vars, c.X = w.target(c.Vars), w.expr(c.X)
		case *syntax.IfClause:
			c.Cond = w.expr(c.Cond)
		}
	}
}

// small reports whether an expression is written out, so that adding it adds no more than what is written. In
// place of the nodes of a cell that are rewritten already, it sees those that stay as they are.
func small(x syntax.Expr) bool {
	switch x := x.(type) {
	case *syntax.Literal, *syntax.ListExpr, *syntax.TupleExpr, *syntax.DictExpr:
		return true
	case *syntax.ParenExpr:
		return small(x.X)
	}
	return false
}

// smallNumber reports whether an expression is a literal by which nothing is repeated often.
func smallNumber(x syntax.Expr) bool {
	l, ok := x.(*syntax.Literal)
	if !ok {
		return false
	}
	n, isInt := l.Value.(int64)
	return l.Token == syntax.FLOAT || isInt && n <= 8
}
