package standards

import (
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// field is what a column holds.
type field string

const (
	breed    field = "breed"
	variety  field = "variety"
	size     field = "size"
	country  field = "country"
	standard field = "standard"
	edition  field = "edition"
	unit     field = "unit"
	source   field = "source"
	note     field = "note"
	kind     field = "source_kind" // of tables of published weights; here it is always the keeper's own

	class field = "class"
	low   field = "low"
	high  field = "high"
	exact field = "weight"

	cock     = field(record.Cock)
	hen      = field(record.Hen)
	cockerel = field(record.Cockerel)
	pullet   = field(record.Pullet)
)

// fields in the order in which a message lists them.
func fields() []field {
	return []field{breed, variety, size, country, standard, edition, unit, cock, hen, cockerel, pullet, class, low, high, exact, source, note}
}

// alias are other headings in use. Source: common practice, no source.
func alias() map[string]field {
	return map[string]field{
		"colour": variety, "color": variety, "from": low, "min": low, "minimum": low, "to": high, "max": high, "maximum": high,
		"target": exact, "units": unit, "notes": note, "source_kind": kind, "age class": class, "sex": class, "cocks": cock, "hens": hen,
		"cockerels": cockerel, "pullets": pullet,
	}
}

// column is where a field stands.
type column struct {
	at      int // counted from 1
	heading string
	unit    string // that the heading states: "cock (g)"
}

// headings reads the line of headings.
func (r *reader) headings(row sheet.Row) {
	r.columns = map[field]column{}
	known := alias()
	for _, f := range fields() {
		known[string(f)] = f
	}
	for i, c := range row.Cells {
		heading := parse.Clean(c.Raw)
		if heading == "" {
			continue
		}
		name := parse.Fold(heading)
		bare, rest, parted := strings.Cut(name, "(")
		stated := ""
		if parted {
			stated = parse.UnitIn(rest)
		} else if word, last, spaced := cutLast(name); spaced && parse.UnitIn(last) != "" {
			bare, stated = word, parse.UnitIn(last)
		}
		f, ok := known[strings.TrimSpace(bare)]
		if !ok {
			r.fault(row.N, heading, "this heading is not known; known are %s", list())
			continue
		}
		if old, twice := r.columns[f]; twice {
			r.fault(row.N, heading, "a second column of %s, beside %q; keep one", f, old.heading)
			continue
		}
		r.columns[f] = column{i + 1, heading, stated}
	}
	if len(r.faults) > 0 {
		return
	}
	has := func(f field) bool { return r.columns[f].at > 0 }
	if !has(breed) {
		r.fault(row.N, "", "no heading says breed; the first line holds the headings: %s", shapes)
	}
	if !has(size) {
		r.fault(row.N, "", "no heading says size; add a column size, with large or bantam in each row")
	}
	switch {
	case has(class) && !has(low) && !has(high) && !has(exact):
		r.fault(row.N, "", "no heading says weight; beside class there is low and high, or weight")
	case has(class) && (has(cock) || has(hen) || has(cockerel) || has(pullet)):
		r.fault(row.N, "", "a column of classes and columns named by class; keep one of the two shapes: %s", shapes)
	case !has(class) && !has(cock) && !has(hen) && !has(cockerel) && !has(pullet):
		r.fault(row.N, "", "no heading says whose weights these are; use one of the two shapes: %s", shapes)
	}
}

func cutLast(s string) (before, last string, ok bool) {
	i := strings.LastIndexByte(s, ' ')
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+1:], true
}

func list() string {
	var names []string
	for _, f := range fields() {
		names = append(names, string(f))
	}
	return strings.Join(names, ", ")
}
