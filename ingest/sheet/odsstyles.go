package sheet

import "strings"

// odsStyles is what the styles of an OpenDocument spreadsheet say that matters here, by their names.
type odsStyles struct {
	hiddenTables map[string]bool
	struckSpans  map[string]bool
	cells        map[string]odsCellStyle
	formats      map[string]string // number format as a code in the manner of xlsx
}

type odsCellStyle struct {
	parent, format string
	struck         bool
}

func newODSStyles() odsStyles {
	return odsStyles{map[string]bool{}, map[string]bool{}, map[string]odsCellStyle{}, map[string]string{}}
}

// cell resolves a cell style by way of the styles that it rests on.
func (o *odsStyles) cell(name string) style {
	out := style{}
	for range 16 {
		c, ok := o.cells[name]
		if !ok {
			break
		}
		if out.format == "" {
			out.format = o.formats[c.format]
		}
		out.struck = out.struck || c.struck
		name = c.parent
	}
	return out
}

// read reads the block of styles that was just opened.
func (o *odsStyles) read(s *scanner, st *store) error {
	for depth := s.depth(); ; {
		t, err := s.next()
		switch {
		case err != nil || t == tokenEnd && s.depth() < depth:
			return err
		case t != tokenStart:
			continue
		}
		if err := st.take(256); err != nil {
			return err
		}
		switch name := string(s.name); {
		case name == "style":
			err = o.readStyle(s)
		case strings.HasSuffix(name, "-style"):
			err = o.readFormat(s, name)
		default:
			err = s.skip()
		}
		if err != nil {
			return err
		}
	}
}

func (o *odsStyles) readStyle(s *scanner) error {
	var got [4]string
	for i, attr := range []string{"style:name", "style:family", "style:parent-style-name", "style:data-style-name"} {
		b, err := s.attr(attr)
		if err != nil {
			return err
		}
		got[i] = string(b)
	}
	struck, hidden := false, false
	for depth := s.depth(); ; {
		t, err := s.next()
		if err != nil {
			return err
		}
		if t == tokenEnd && s.depth() < depth {
			break
		}
		if t != tokenStart {
			continue
		}
		line, err := s.attr("style:text-line-through-style")
		if err != nil {
			return err
		}
		kind, err := s.attr("style:text-line-through-type")
		if err != nil {
			return err
		}
		struck = struck || line != nil && string(line) != "none" || kind != nil && string(kind) != "none"
		display, err := s.attr("table:display")
		if err != nil {
			return err
		}
		hidden = hidden || string(display) == "false"
	}
	switch got[1] {
	case "table":
		o.hiddenTables[got[0]] = hidden
	case "text":
		o.struckSpans[got[0]] = struck
	case "table-cell":
		o.cells[got[0]] = odsCellStyle{got[2], got[3], struck}
	}
	return nil
}

// readFormat writes a number format as a code: "dd/mm/yyyy", "0.00", `0" kg"`.
func (o *odsStyles) readFormat(s *scanner, kind string) error {
	name, err := s.attr("style:name")
	if err != nil {
		return err
	}
	var code strings.Builder
	for depth := s.depth(); ; {
		t, err := s.next()
		if err != nil {
			return err
		}
		if t == tokenEnd && s.depth() < depth {
			break
		}
		if t != tokenStart {
			continue
		}
		if string(s.name) == "text" {
			b, err := s.text(nil)
			if err != nil {
				return err
			}
			code.WriteString(literal(string(b), kind))
			continue
		}
		long, err := s.attr("number:style")
		if err != nil {
			return err
		}
		code.WriteString(formatPart(s, string(s.name), string(long) == "long"))
	}
	if c := code.String(); c != "0" || kind != "number-style" {
		o.formats[string(name)] = c
	}
	return nil
}

// literal is a piece of plain text in a format code; letters need quotes there.
func literal(text, kind string) string {
	if kind == "percentage-style" && text == "%" || strings.Trim(text, " /-.:,") == "" {
		return text
	}
	return `"` + strings.ReplaceAll(text, `"`, "") + `"`
}

func formatPart(s *scanner, name string, long bool) string {
	pick := func(short, full string) string {
		if long {
			return full
		}
		return short
	}
	switch name {
	case "day":
		return pick("d", "dd")
	case "day-of-week":
		return pick("ddd", "dddd")
	case "month":
		if textual, err := s.attr("number:textual"); err == nil && string(textual) == "true" {
			return pick("mmm", "mmmm")
		}
		return pick("m", "mm")
	case "year":
		return pick("yy", "yyyy")
	case "hours":
		return pick("h", "hh")
	case "minutes":
		return pick("m", "mm")
	case "seconds":
		return pick("s", "ss")
	case "am-pm":
		return "AM/PM"
	case "text-content":
		return "@"
	case "number":
		places, err := s.attr("number:decimal-places")
		n, err2 := repeats(places, 20)
		if err != nil || err2 != nil || places == nil {
			return "0"
		}
		return "0." + strings.Repeat("0", int(n))
	}
	return ""
}
