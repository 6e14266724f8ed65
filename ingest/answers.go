package ingest

import (
	"strings"

	"keelmark/ingest/ask"
	"keelmark/ingest/parse"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// RowText is what a row holds, as an answer remembers it in order to follow it.
func RowText(row []string) string { return ask.RowText(row) }

// Follow returns the answers as they stand now, each at the cell to which it has followed its row. The flocks were
// read with KeepTexts. It changes neither.
func Follow(answers *settings.Answers, flocks []*record.Dataset) *settings.Answers {
	sheets := map[string][]ask.Sheet{}
	var files []string
	for _, d := range flocks {
		for _, l := range d.Ledgers {
			if len(sheets[l.File]) == 0 {
				files = append(files, l.File)
			}
			sheets[l.File] = append(sheets[l.File], ask.Sheet{Name: l.Sheet, Rows: l.Texts})
		}
	}
	replies := ask.NewReplies(answers)
	for _, f := range files {
		replies.Follow(f, func() []ask.Sheet { return sheets[f] })
	}
	return replies.Answers()
}

// MoveAnswer is an answer about one cell as it reads once that cell stands at another place; false for an answer that is
// not about the one cell that it names.
func MoveAnswer(a settings.Answer, to record.Ref) (settings.Answer, bool) {
	moved := ask.Moved(a, to)
	return moved, a.Cell != "" && (moved.Key != a.Key || a.Cell == to.Key() && ask.AboutOneCell(a))
}

// IsWeight reports whether a text can be a weight, whatever its unit may be where it names none.
func IsWeight(text string) bool {
	_, p := parse.Weight(parse.T(text), parse.WeightIn{})
	return p == nil || !p.Holds() || p.Class == parse.UnitUnknown && strings.ContainsAny(text, "0123456789½¼¾") || p.Class == parse.PoundsAmbiguous
}

// IsDate reports whether a text can be a date, whatever its year or its order may be.
func IsDate(text string) bool {
	_, p := parse.Date(parse.T(text), parse.DateIn{})
	return p == nil || !p.Holds() || p.Class == parse.DateAmbiguous || p.Class == parse.DateYearMissing || p.Class == parse.SeasonAmbiguous
}

// MarkAsked accounts each cell that a question names as asked, records that wait for confirmation too. So the account of
// the sheets counts what the questions are about. It is called again where questions are added after reading.
func MarkAsked(flocks []*record.Dataset) {
	ledgers := map[sheetName]*record.Ledger{}
	for _, d := range flocks {
		for i := range d.Ledgers {
			ledgers[sheetName{d.Ledgers[i].File, d.Ledgers[i].Sheet}] = &d.Ledgers[i]
		}
	}
	for _, d := range flocks {
		for _, q := range d.Questions {
			for _, at := range append([]record.Ref{q.At}, q.More...) {
				if l := ledgers[sheetName{at.File, at.Sheet}]; l != nil {
					if f := l.At(at.Row, at.Col); f == record.AsContext || f == record.AsRecord {
						l.Mark(at.Row, at.Col, record.AsQuestion)
					}
				}
			}
		}
	}
}
