package cell

import (
	"errors"
	"fmt"
	"strings"

	"go.starlark.net/starlark"

	"keelmark/analysis"
	"keelmark/notebooks/render"
	"keelmark/plots"
)

// block is a part of a report in a cell.
type block struct{ render.Block }

// figure is a figure in a cell.
type figure struct{ plots.Figure }

// blockFunctions are the vocabulary of reports: one function for each block that a page can hold.
func blockFunctions() []binding {
	e := func(name, args, doc, example string) Entry { return Entry{"Reports", name, args, doc, example} }
	return []binding{
		{e("heading", "(text, level = 2)", "A heading: 2 opens a chapter, 3 a section, 4 a part.", "heading(\"Weights\")"), makeHeading},
		{e("para", "(text, style = \"\")", "A paragraph. Style \"lead\" is the answer at the top, \"small\" is for method and source.", "para(\"Nine birds were weighed.\", style = \"lead\")"), makePara},
		{e("markdown", "(text)", "Text with Markdown markup.", "markdown(\"*Nine* birds were weighed.\")"), makeMarkdown},
		{e("caution", "(topic, title, lines, stop = False)", "A box that says what can hurt someone. With stop, a vet or the authority comes first.",
			"caution(\"records\", \"Two weighings were held out\", [\"They lie outside what any bird could weigh.\"])"), makeCaution},
		{e("table", "(table, caption = \"\", note = \"\", columns = None)", "A table for the page. Columns, where given, is a dictionary from columns to headings and picks them.",
			"table(flock.weights.head(5), caption = \"The first weighings\", columns = {\"bird\": \"bird\", \"weight\": \"weight\"})"), makeTable},
		{e("grid", "(heads, rows, caption = \"\", note = \"\")", "A table made row by row. A cell is a text, a number, a small figure, signed(...), blank() or None.",
			"grid([\"bird\", \"seen\"], [[\"R12\", blank(box = True)]], caption = \"For the pencil\")"), makeGrid},
		{e("signed", "(side, text)", "A text with the sign of its side before it: for, against, open or stop.", "grid([\"bird\", \"\"], [[\"R12\", signed(\"open\", \"not weighed lately\")]])"), makeSigned},
		{e("blank", "(text = \"\", box = False)", "A line to write on in a grid, or with box a box to tick.", "grid([\"bird\", \"weight\"], [[\"R12\", blank()]])"), makeBlank},
		{e("claims", "(claims, title = \"\")", "Claims side by side: what speaks for, what speaks against, what is open. Takes a result or a list of claims.",
			"claims([], title = \"Weight\")"), makeClaims},
		{e("facts", "(facts, title = \"\")", "Short names and values, from a dictionary; a missing value prints as not recorded.", "facts({\"ring\": \"R12\", \"sex\": None}, title = \"The bird\")"), makeFacts},
		{e("columns", "(left, right, ..., widths = None)", "Blocks side by side; each argument is a block or a list of them. Widths are their shares of a printed page.",
			"columns(para(\"left\"), [para(\"right\"), para(\"below\")], widths = [2, 1])"), makeColumns},
		{e("together", "(block, ...)", "Several blocks as one output.", "together(heading(\"R12\", 3), para(\"No weighing.\"))"), makeGroup},
		{e("page_break", "()", "A new page on paper.", "page_break()"), plainBlock("page_break", render.PageBreak{})},
		{e("notes", "()", "Where paper prints the cells that the claims so far rest on.", "notes()"), plainBlock("notes", render.Notes{})},
		{e("decision_line", "(about)", "The blank line for the keeper's own words, with reason and date.", "decision_line(\"R12\")"), makeDecision},
		{e("ticks", "(label, items, lines = [])", "A row for the pencil: boxes to tick, then lines to write on.", "ticks(\"R12\", [\"seen\", \"weighed\"], lines = [\"weight\"])"), makeTicks},
		{e("preformatted", "(text)", "Text whose line breaks count.", "preformatted(\"a  b\\nc  d\")"), makePreformatted},
		{e("figure", "(figure, width = None, height = None)", "A figure for the page, drawn anew at another size in mm where asked; what an analysis draws is in its .figures.", "[figure(f) for f in growth(flock).figures]"), makeFigure},
		{e("png", "(figure, dpi = 150)", "A figure as a picture of dots (PNG), for a notebook that goes where drawings of lines are not shown, such as into a letter.", "[png(f) for f in growth(flock).figures]"), makePicture},
	}
}

func makeHeading(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	text, level := "", 2
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "text", &text, "level?", &level); err != nil {
		return nil, err
	}
	if level < 1 || level > 4 {
		return nil, fmt.Errorf("heading: level is %d; use 2 for a chapter, 3 for a section, 4 for a part", level)
	}
	return block{render.Heading{Level: level, Text: text}}, nil
}

func makePara(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var text, style string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "text", &text, "style?", &style); err != nil {
		return nil, err
	}
	if s := render.Style(style); s != "" && s != render.Lead && s != render.Small {
		return nil, fmt.Errorf("para: style %q is not known; use %q, %q or none", style, render.Lead, render.Small)
	}
	return block{render.Para{Text: text, Style: render.Style(style)}}, nil
}

func makeMarkdown(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var text string
	err := starlark.UnpackArgs(b.Name(), args, kwargs, "text", &text)
	return block{render.Markdown{Source: text}}, err
}

func makePreformatted(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var text string
	err := starlark.UnpackArgs(b.Name(), args, kwargs, "text", &text)
	return block{render.Preformatted{Text: text}}, err
}

func makeCaution(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var topic, title string
	var lines starlark.Value = starlark.Tuple{}
	stop := false
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "topic", &topic, "title", &title, "lines?", &lines, "stop?", &stop); err != nil {
		return nil, err
	}
	list, err := texts("caution: lines", lines)
	return block{render.Caution{Topic: topic, Title: title, Lines: list, Stop: stop}}, err
}

// texts reads a text or a list of texts.
func texts(what string, v starlark.Value) ([]string, error) {
	if s, ok := v.(starlark.String); ok {
		return []string{string(s)}, nil
	}
	items, err := listOf(v)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	var out []string
	for _, item := range items {
		s, ok := item.(starlark.String)
		if !ok {
			return nil, fmt.Errorf("%s takes texts, not a %s", what, item.Type())
		}
		out = append(out, string(s))
	}
	return out, nil
}

func makeTable(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var from *table
	var caption, note string
	var heads *starlark.Dict
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "table", &from, "caption?", &caption, "note?", &note, "columns??", &heads); err != nil {
		return nil, err
	}
	f := from.Frame
	if heads != nil {
		picked, err := textsOf("table: columns", heads.Keys())
		if err != nil {
			return nil, err
		}
		if f, err = f.Select(picked...); err != nil {
			return nil, from.explain(err)
		}
	}
	a := f.Table("", caption)
	if heads != nil {
		for i, item := range heads.Items() {
			head, ok := starlark.AsString(item[1])
			if !ok {
				return nil, fmt.Errorf("table: the heading of %s is a text, not a %s", item[0], item[1].Type())
			}
			a.Columns[i].Head = head
		}
	}
	out := render.TableOf(a, running(t).engine.units())
	out.Note = note
	return block{out}, nil
}

// units are the units in which the keeper reads weights.
func (e *Engine) units() string {
	if e.options.Flock == nil {
		return ""
	}
	return e.options.Flock.Settings.Flock.Units
}

func makeClaims(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var from starlark.Value
	var title string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "claims", &from, "title?", &title); err != nil {
		return nil, err
	}
	if r, ok := from.(*result); ok {
		return block{render.ClaimsOf(title, r.claims(), r.flock.look())}, nil
	}
	items, err := listOf(from)
	if err != nil {
		return nil, fmt.Errorf("claims takes a result or a list of claims, not a %s", from.Type())
	}
	out := render.Claims{Title: title}
	for _, item := range items {
		c, ok := item.(*claim)
		if !ok {
			return nil, fmt.Errorf("claims takes claims, not a %s; an analysis has them in .claims", item.Type())
		}
		out.Claims = append(out.Claims, c.block().Claims...)
	}
	return block{out}, nil
}

func makeFacts(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var pairs *starlark.Dict
	var title string
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "facts", &pairs, "title?", &title); err != nil {
		return nil, err
	}
	out := render.Facts{Title: title}
	for _, item := range pairs.Items() {
		out.Pairs = append(out.Pairs, render.Fact{Name: shown(item[0]), Value: shown(item[1])})
	}
	return block{out}, nil
}

// shown is a value as running text.
func shown(v starlark.Value) string {
	switch v := v.(type) {
	case starlark.NoneType:
		return ""
	case starlark.String:
		return string(v)
	case starlark.Bool:
		if v {
			return "yes"
		}
		return "no"
	}
	return v.String()
}

func makeColumns(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(args) < 2 || len(args) > 4 {
		return nil, errors.New("columns takes two to four blocks, or lists of blocks")
	}
	var out render.Columns
	for _, k := range kwargs {
		if name := string(k[0].(starlark.String)); name != "widths" {
			return nil, fmt.Errorf("columns has no option %s; it has widths", name)
		}
		widths, err := listOf(k[1])
		if err != nil || len(widths) != len(args) {
			return nil, fmt.Errorf("columns: widths takes a list of %d numbers, one a column", len(args))
		}
		for _, w := range widths {
			x, ok := number(w)
			if !ok || x <= 0 {
				return nil, fmt.Errorf("columns: a width is %s; use a number above 0", w)
			}
			out.Widths = append(out.Widths, x)
		}
	}
	for _, a := range args {
		list, err := blocksOf(running(t).engine, a)
		if err != nil {
			return nil, err
		}
		out.Columns = append(out.Columns, list)
	}
	return block{out}, nil
}

func makeGroup(t *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	if len(kwargs) > 0 {
		return nil, errors.New("together takes blocks")
	}
	list, err := blocksOf(running(t).engine, args)
	return block{render.Group{Blocks: list}}, err
}

// blocksOf reads anything that a page can hold, or a list of it.
func blocksOf(e *Engine, v starlark.Value) (render.Blocks, error) {
	if b, ok := e.page(v); ok {
		if g, ok := b.(render.Group); ok {
			return g.Blocks, nil
		}
		return render.Blocks{b}, nil
	}
	if s, ok := v.(starlark.String); ok {
		return render.Blocks{render.Para{Text: string(s)}}, nil
	}
	items, ok := v.(starlark.Iterable)
	if !ok {
		return nil, fmt.Errorf("a %s cannot stand on a page; para(str(x)) can", v.Type())
	}
	var out render.Blocks
	for item := range starlark.Elements(items) {
		list, err := blocksOf(e, item)
		if err != nil {
			return nil, err
		}
		out = append(out, list...)
	}
	return out, nil
}

func plainBlock(name string, b render.Block) builtin {
	return func(_ *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
		return block{b}, starlark.UnpackArgs(name, args, kwargs)
	}
}

func makeDecision(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var about starlark.Value
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "about", &about); err != nil {
		return nil, err
	}
	return block{render.Decision{About: label(about)}}, nil
}

// label names a bird, or says a text.
func label(v starlark.Value) string {
	if b, ok := v.(*bird); ok {
		return b.Label()
	}
	return shown(v)
}

func makeTicks(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var about starlark.Value
	var boxes, lines starlark.Value = starlark.Tuple{}, starlark.Tuple{}
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "label", &about, "items?", &boxes, "lines?", &lines); err != nil {
		return nil, err
	}
	out := render.Ticks{Label: label(about)}
	for i, list := range []starlark.Value{boxes, lines} {
		items, err := texts("ticks", list)
		if err != nil {
			return nil, err
		}
		for _, text := range items {
			out.Items = append(out.Items, render.Tick{Text: text, Line: i == 1})
		}
	}
	return block{out}, nil
}

func makeFigure(_ *starlark.Thread, b *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	var width, height starlark.Value = starlark.None, starlark.None
	if err := starlark.UnpackArgs(b.Name(), args, kwargs, "figure", &v, "width?", &width, "height?", &height); err != nil {
		return nil, err
	}
	f, ok := v.(figure)
	if !ok {
		return nil, fmt.Errorf("figure takes a figure, not a %s; an analysis has them in .figures", v.Type())
	}
	plot := f.Figure
	for _, side := range []struct {
		name string
		v    starlark.Value
		mm   *float64
	}{{"width", width, &plot.Width}, {"height", height, &plot.Height}} {
		if side.v == starlark.None {
			continue
		}
		mm, ok := number(side.v)
		if !ok || mm < 20 || mm > 250 {
			return nil, fmt.Errorf("figure: %s is %s; use 20 to 250 mm", side.name, side.v)
		}
		*side.mm = mm
	}
	return block{render.Figure{Plot: plot}}, nil
}

// look finds what was typed in a cell of the flock.
func (f *flockValue) look() render.Look {
	if f.evidence == nil {
		f.evidence = render.EvidenceIn(f.data)
	}
	return f.evidence
}

func (c *claim) block() render.Claims {
	return render.ClaimsOf("", []analysis.Claim{c.Claim}, c.flock.look())
}

// Attr implements starlark.HasAttrs.
func (f figure) Attr(name string) (starlark.Value, error) {
	switch name {
	case "name":
		return starlark.String(f.Name), nil
	case "title":
		return starlark.String(f.Title), nil
	case "caption":
		return starlark.String(f.Caption), nil
	case "alt":
		return starlark.String(f.Alt), nil
	}
	return nil, nil
}

// AttrNames implements starlark.HasAttrs.
func (figure) AttrNames() []string { return []string{"alt", "caption", "name", "title"} }

// String implements starlark.Value.
func (f figure) String() string { return "figure " + f.Name + ": " + f.Alt }

// Type implements starlark.Value.
func (figure) Type() string { return "figure" }

// Freeze implements starlark.Value.
func (figure) Freeze() {}

// Truth implements starlark.Value.
func (figure) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (figure) Hash() (uint32, error) { return 0, errors.New("a figure cannot be a key") }

// String implements starlark.Value.
func (b block) String() string { return strings.TrimSpace(render.PlainText(b.Block)) }

// Type implements starlark.Value.
func (b block) Type() string { return b.Kind() }

// Freeze implements starlark.Value.
func (block) Freeze() {}

// Truth implements starlark.Value.
func (block) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (block) Hash() (uint32, error) { return 0, errors.New("a block cannot be a key") }
