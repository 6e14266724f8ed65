package main

import (
	"fmt"
	"slices"

	"keelmark/datasets"
	"keelmark/ingest/workbook"
)

// season2024 is wide: a row a bird, a column a date, with titles, a gain, averages at the foot and a legend.
// Checks and treatments stand on sheets of their own.
func season2024(k *flock, truth *datasets.Truth) (string, []byte, error) {
	const name = "weigh-ins-2024.xlsx"
	n := datasets.FileCounts{Flock: datasets.DemoKeeper, File: name}
	old := every(on("2024-01-13"), on("2024-12-14"), 28)
	var birds []*bird
	for _, b := range k.birds {
		if b.hatched < on("2024-12-01") && (b.left == 0 || b.left > old[0]) {
			birds = append(birds, b)
		}
	}
	w := &wide{page: &page{name: "Weights 2024", widths: []float64{9, 11, 10, 8, 5, 11}}, file: name, old: old, n: &n, truth: truth,
		dates: days(old, every(on("2024-05-18"), on("2024-10-19"), 28))} // in between: the young ones only
	w.fill(birds)
	pages := []*page{
		w.page,
		checks2024(k, birds, old, &n),
		treatments("Treatments 2024", workbook.Date, &n,
			dose{"2024-07-07", "pen A", "permethrin dust", "lice", ""},
			dose{"2024-08-04", "pen A", "permethrin dust", "lice", ""},
			dose{"2024-08-12", "pen A", "permethrin dust", "lice", ""},
			dose{"2024-11-03", "pen C", "product as labelled", "lice", "5 days, from the label"},
			dose{"2024-11-11", "pen C", "product as labelled", "lice", "5 days, from the label"},
		),
	}
	return book(name, n, truth, pages...)
}

// wide is the wide sheet of weights while it is filled.
type wide struct {
	*page
	file   string
	dates  []day // of the columns
	old    []day // on which grown birds were weighed too
	n      *datasets.FileCounts
	truth  *datasets.Truth
	totals []total // one a date
}

// total is what the average at the foot of a column rests on.
type total struct{ sum, birds float64 }

// lead is the number of columns before the dates.
const lead = 6

func (w *wide) fill(birds []*bird) {
	across := lead + len(w.dates) + 2
	w.add(workbook.Title("Wrenlow Yard - weigh-ins 2024 (invented demo)", across))
	w.add(workbook.Text("All weights in grams, in the evening, on the platform scale").Italic().Across(across))
	w.add()
	var head []workbook.Cell
	for _, h := range []string{"Ring", "Name", "Breed", "Size", "Sex", "Hatched"} {
		head = append(head, workbook.Heading(h))
	}
	for _, d := range w.dates {
		head = append(head, workbook.Date(d).Bold().Shaded().Format("d mmm yy"))
		w.widths = append(w.widths, 10)
	}
	w.add(append(head, workbook.Heading("Gain"), workbook.Heading("Notes"))...)
	w.widths = append(w.widths, 8, 24)
	w.frozen = len(w.rows)

	w.totals = make([]total, len(w.dates))
	first := w.next()
	for _, b := range birds {
		w.bird(b)
	}
	last := w.next() - 1
	w.add()
	foot := make([]workbook.Cell, lead)
	foot[0] = workbook.Text("Average").Bold()
	for i, t := range w.totals {
		col := lead + 1 + i
		average := fmt.Sprintf("AVERAGE(%s:%s)", cellName(col, first), cellName(col, last))
		foot = append(foot, workbook.Formula(average, t.sum/t.birds, 0).Bold())
	}
	w.add(foot...)
	w.add()
	w.add(workbook.Text("- = not weighed that day    wet = caught in the rain").Italic().Across(across))
}

// bird adds the row of one bird.
func (w *wide) bird(b *bird) {
	row := []workbook.Cell{text(b.ring), text(b.name), text(b.breed), text(string(b.size)), text(string(b.sex)),
		workbook.Date(b.hatched).Format("d mmm yy")}
	var first, last struct {
		col   int
		grams float64
	}
	for i, d := range w.dates {
		col := lead + 1 + i
		cell, g := w.cell(b, d, col, i > 0 && w.dates[i-1] < b.left)
		row = append(row, cell)
		if g == 0 {
			continue
		}
		w.totals[i].sum += g
		w.totals[i].birds++
		if first.col == 0 {
			first.col, first.grams = col, g
		}
		last.col, last.grams = col, g
	}
	gain := cellName(last.col, w.next()) + "-" + cellName(first.col, w.next())
	notes := map[string]string{"W24-11": "big for a bantam", "W22-21": "small but always was"}
	w.add(append(row, workbook.Formula(gain, last.grams-first.grams, 0).Centred(), text(notes[b.ring]))...)
}

// cell is the cell of a bird and a date, with the grams that a formula can take from it, 0 where none.
func (w *wide) cell(b *bird, d day, col int, wasHere bool) (workbook.Cell, float64) {
	doubt := func(raw string, g float64, why string) {
		w.truth.Doubtful = append(w.truth.Doubtful, datasets.DoubtCell{File: w.file, Sheet: w.name, Cell: cellName(col, w.next()),
			Ring: b.ring, Raw: raw, Grams: g, Why: why})
	}
	young := b.hatched > on("2024-01-01")
	g := step(b.weighed(d), 2)
	switch {
	case b.left != 0 && d >= b.left && wasHere:
		w.n.Gone++
		return text(b.how), 0
	case young && d-b.hatched < 25:
		return workbook.Cell{}, 0
	case !b.here(d) || !young && !slices.Contains(w.old, d):
		return text("-").Centred(), 0
	case b.ring == "W23-02" && d == on("2024-04-06"):
		doubt("?", 0, "a weight that nobody knows")
		return text("?"), 0
	case b.ring == "W23-31" && d == on("2024-09-21"):
		raw := fmt.Sprintf("%.0f wet", g)
		doubt(raw, g, "a note in the cell of a weight")
		w.n.Weights++
		return text(raw), 0
	}
	w.n.Weights++
	return grams(g), g
}

func checks2024(k *flock, birds []*bird, old []day, n *datasets.FileCounts) *page {
	p := &page{name: "Checks 2024", widths: []float64{12, 10, 12, 16, 12, 12, 24}}
	p.headings("Date", "Ring", "Name", "Condition (0-3)", "Lice (0-3)", "Mites (0-3)", "Notes")
	again := []day{on("2024-07-20"), on("2024-08-17"), on("2024-08-31"), on("2024-11-02"), on("2024-11-30")} // about treatments
	for _, d := range days(old, again) {
		for _, b := range birds {
			if !b.here(d) || d-b.hatched < 30 || overlooked(b, d) {
				continue
			}
			p.add(workbook.Date(d), text(b.ring), text(b.name), score(b.condition(d)), score(k.louse(b, d)), score(b.mite(d)), text(moultNote(b, d)))
			n.Conditions++
			n.Lice++
			n.Mites++
		}
	}
	return p
}
