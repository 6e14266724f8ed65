package ingest

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"keelmark/ingest/record"
)

type fileLine struct {
	Type    string         `json:"type"`
	File    string         `json:"file"`
	Outcome record.Outcome `json:"outcome"`
	Reason  string         `json:"reason,omitempty"`
	Notes   []string       `json:"notes,omitempty"`
}

type recordLine struct {
	Type      string         `json:"type"`
	Flock     string         `json:"flock,omitempty"`
	File      string         `json:"file"`
	Sheet     string         `json:"sheet"`
	Row       int32          `json:"row"`
	Cell      string         `json:"cell"`
	Bird      string         `json:"bird,omitempty"`
	Ring      string         `json:"ring,omitempty"`
	Name      string         `json:"name,omitempty"`
	Date      string         `json:"date,omitempty"`
	Precision string         `json:"date_precision,omitempty"`
	AgeDays   *int           `json:"age_days,omitempty"`
	Kind      string         `json:"kind"`
	Value     any            `json:"value,omitempty"`
	Unit      string         `json:"unit,omitempty"`
	Scale     string         `json:"scale,omitempty"`
	Parasite  string         `json:"parasite,omitempty"`
	Site      string         `json:"site,omitempty"`
	Form      record.Form    `json:"form,omitempty"`
	Lo        *float64       `json:"lo,omitempty"`
	Hi        *float64       `json:"hi,omitempty"`
	Product   string         `json:"product,omitempty"`
	Dose      string         `json:"dose,omitempty"`
	Against   string         `json:"against,omitempty"`
	Scope     record.Scope   `json:"scope,omitempty"`
	Pen       string         `json:"pen,omitempty"`
	Note      string         `json:"note,omitempty"`
	Raw       string         `json:"raw"`
	Flagged   bool           `json:"flagged"`
	Also      []string       `json:"also,omitempty"`
	Steps     []string       `json:"steps,omitempty"`
	Result    string         `json:"result,omitempty"`
	Eggs      map[string]int `json:"eggs,omitempty"`
}

type issueLine struct {
	Type     string        `json:"type"`
	File     string        `json:"file"`
	Sheet    string        `json:"sheet"`
	Row      int32         `json:"row"`
	Cell     string        `json:"cell"`
	Class    string        `json:"class"`
	Raw      string        `json:"raw"`
	Message  string        `json:"message"`
	Readings []readingLine `json:"readings,omitempty"`
	More     int           `json:"more,omitempty"` // further cells that the same answer settles, each on its own line
	With     string        `json:"with,omitempty"` // the cell that the question was asked about
	Key      string        `json:"key,omitempty"`
}

type readingLine struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

func readingLines(in []record.Reading) []readingLine {
	out := make([]readingLine, len(in))
	for i, r := range in {
		out[i] = readingLine(r)
	}
	return out
}

type asideLine struct {
	Type  string    `json:"type"`
	File  string    `json:"file"`
	Sheet string    `json:"sheet"`
	Rows  [2]int32  `json:"rows"`
	Cols  *[2]int32 `json:"cols,omitempty"`
	Why   string    `json:"why"`
}

// WriteJSONL writes what was read, asked, refused and set aside, one JSON object a line: the files, then the
// records, the issues (questions and rejects) and the asides of each flock. An incomplete date is written as
// far as it is known.
func WriteJSONL(w io.Writer, flocks []*record.Dataset) error {
	buf := bufio.NewWriter(w)
	out := json.NewEncoder(buf)
	out.SetEscapeHTML(false)
	var failed error
	put := func(line any) {
		if failed == nil {
			failed = out.Encode(line)
		}
	}
	told := map[string]bool{}
	for _, d := range flocks {
		for _, f := range d.Files {
			if !told[f.Name+"\x00"+f.Hash] {
				told[f.Name+"\x00"+f.Hash] = true
				put(fileLine{"file", f.Name, f.Outcome, f.Reason, f.Notes})
			}
		}
	}
	for _, d := range flocks {
		flock := ""
		if len(flocks) > 1 {
			flock = d.Name
		}
		birds := make(map[string]record.Bird, len(d.Birds))
		for _, b := range d.Birds {
			birds[b.ID] = b
		}
		for _, o := range d.Observations {
			put(observationLine(o, birds[o.Bird], flock))
		}
		for _, e := range d.Events {
			put(eventLine(e, birds[e.Bird], flock))
		}
		for _, q := range d.Questions {
			put(issueLine{"issue", q.At.File, q.At.Sheet, q.At.Row, q.At.Cell(), q.Class, q.Raw, q.Message, readingLines(q.Readings), len(q.More), "", q.Key})
			for _, r := range q.More {
				put(issueLine{Type: "issue", File: r.File, Sheet: r.Sheet, Row: r.Row, Cell: r.Cell(), Class: q.Class,
					Message: fmt.Sprintf("%s: the answer for %s settles this cell too", r, q.At), With: q.At.Key(), Key: q.Key})
			}
		}
		for _, r := range d.Rejects {
			put(issueLine{Type: "issue", File: r.At.File, Sheet: r.At.Sheet, Row: r.At.Row, Cell: r.At.Cell(), Class: r.Class, Raw: r.Raw, Message: r.Message})
		}
		for _, a := range d.Asides {
			line := asideLine{Type: "aside", File: a.File, Sheet: a.Sheet, Rows: a.Rows, Why: a.Why}
			if a.Cols[0] > 0 {
				line.Cols = &a.Cols
			}
			put(line)
		}
	}
	if failed != nil {
		return failed
	}
	return buf.Flush()
}

func observationLine(o record.Observation, b record.Bird, flock string) recordLine {
	d := o.Detail()
	line := recordLine{Type: "record", Flock: flock, File: o.At.File, Sheet: o.At.Sheet, Row: o.At.Row, Cell: o.At.Cell(),
		Bird: o.Bird, Ring: b.Ring, Name: b.Name, Kind: string(o.Trait), Scale: o.Scale, Parasite: o.Parasite, Site: d.Site,
		Form: o.Form, Scope: d.Scope, Pen: d.Pen, Note: d.Note, Raw: o.Text, Flagged: o.Flagged, Steps: d.Steps}
	line.when(o.On)
	if n, ok := o.Age.Days(); ok {
		line.AgeDays = &n
	}
	if t, ok := o.Trait.Lookup(); ok && o.Form == record.Measured {
		line.Unit = t.Unit
	}
	for _, r := range d.Also {
		line.Also = append(line.Also, r.Key())
	}
	lo, hi := o.Lo, o.Hi
	switch o.Form {
	case record.Range:
		line.Lo, line.Hi = &lo, &hi
	case record.MoreThan, record.AtLeast:
		line.Lo = &lo
	case record.LessThan:
		line.Hi = &hi
	case record.Present:
		line.Value = o.Value != 0
	default:
		if o.Scale == "words" {
			line.Value = d.Word
		} else {
			line.Value = tidy(o.Value)
		}
	}
	return line
}

func eventLine(e record.Event, b record.Bird, flock string) recordLine {
	line := recordLine{Type: "record", Flock: flock, File: e.At.File, Sheet: e.At.Sheet, Row: e.At.Row, Cell: e.At.Cell(),
		Bird: e.Bird, Ring: b.Ring, Name: b.Name, Kind: string(e.Kind), Scope: e.Scope, Pen: e.Pen, Note: e.Note, Raw: e.Text,
		Flagged: e.Flagged, Result: e.Result}
	line.when(e.On)
	if t := e.Treatment; t != nil {
		line.Kind, line.Product, line.Dose, line.Against = "treatment", t.Product, t.Dose, t.Against
	}
	if s := e.Setting; s != nil {
		line.Eggs = map[string]int{}
		for name, n := range map[string]int{"set": s.Set, "clear": s.Clear, "dead_early": s.DeadEarly, "dead_in_shell": s.DeadInShell, "hatched": s.HatchedNo} {
			if n >= 0 {
				line.Eggs[name] = n
			}
		}
	}
	if c := e.Check; c != nil {
		line.Parasite = c.Parasite
	}
	return line
}

func (l *recordLine) when(d record.Date) {
	l.Precision = d.Precision.String()
	switch d.Precision {
	case record.ToWeek:
		l.Date = d.First.String()
	case record.ToSeason:
		l.Date = d.First.String()[:7]
	default:
		l.Date = d.String()
	}
}

// tidy drops the binary dust of unit conversion: a tenth of a milligram is below any scale.
func tidy(v float64) float64 { return math.Round(v*1e4) / 1e4 }
