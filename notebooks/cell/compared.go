package cell

import (
	"keelmark/analysis"
	"keelmark/ingest/record"
)

// compared is what the name compared means in a report over flocks: a result like that of an analysis, with its claims, tables,
// figures and cautions, behind which no records stand.
func (e *Engine) compared() *result {
	return &result{spec: analysis.Spec{Name: "compared", Title: "Flocks compared"}, found: e.options.Compared, engine: e,
		flock: newFlock(&record.Dataset{}, e.options.Context)}
}

// comparedEntry is its line of the manual.
func comparedEntry() Entry {
	return Entry{Group: "Flock", Name: "compared", Doc: "What a comparison of flocks found, in a report over flocks: .claims, .tables, .figures, .cautions, and each of its tables by name."}
}
