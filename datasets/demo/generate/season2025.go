package main

import (
	"slices"

	"keelmark/datasets"
	"keelmark/ingest/workbook"
)

// season2025 is the keeper's book in pounds and ounces: dates typed as text, a sheet for the old birds and one
// for the young, everything about a look at a bird in one row.
func season2025(k *flock, truth *datasets.Truth) (string, []byte, error) {
	const name = "book-2025.xlsx"
	n := datasets.FileCounts{Flock: datasets.DemoKeeper, File: name}

	start := on("2025-01-01")
	list := birdList("Ring list 2025", k, func(b *bird) bool { return b.left == 0 || b.left > start }, typed)
	fourWeekly := every(on("2025-01-04"), on("2025-08-16"), 28)
	fortnightly := every(on("2025-08-30"), on("2025-11-22"), 14) // before the show the keeper looks twice as often
	old := bookPage(k, "2025 old birds", name, days(fourWeekly, fortnightly),
		func(b *bird) bool { return b.hatched < on("2024-12-01") && (b.left == 0 || b.left > start) }, &n, truth)
	young := bookPage(k, "2025 young birds", name, days(fourWeekly[:4], every(on("2025-04-26"), on("2025-11-22"), 14)),
		func(b *bird) bool { return b.hatched > on("2024-12-01") }, &n, truth)

	treated := treatments("Dusting 2025", typed, &n,
		dose{"2025-06-22", "pen D", "permethrin dust", "lice", ""},
		dose{"2025-06-30", "pen D", "permethrin dust", "lice", ""},
		dose{"2025-09-14", "pen A", "product as labelled", "lice", "5 days, from the label"},
		dose{"2025-09-14", "pen B", "product as labelled", "lice", "5 days, from the label"},
		dose{"2025-09-22", "pen A", "product as labelled", "lice", "5 days, from the label"},
		dose{"2025-09-22", "pen B", "product as labelled", "lice", "5 days, from the label"},
		dose{"2025-10-12", "pen C", "permethrin dust", "lice", ""},
		dose{"2025-10-20", "pen C", "permethrin dust", "lice", ""},
	)
	return book(name, n, truth, list, old, young, treated)
}

// typed is a date typed as text.
func typed(d day) workbook.Cell { return text(mdy(d)) }

// bookPage is one sheet of the book: a title, the headings, a row for each look at a bird.
func bookPage(k *flock, sheet, file string, dates []day, belongs func(*bird) bool, n *datasets.FileCounts, truth *datasets.Truth) *page {
	p := &page{name: sheet, widths: []float64{10, 9, 11, 14, 11, 11, 11, 30}}
	p.add(workbook.Title("Wrenlow Yard "+sheet+" (invented demo)", 8))
	p.headings("Date", "Ring", "Name", "Wt (lb oz)", "Cond (0-3)", "Lice (0-3)", "Mites (0-3)", "Remarks")
	fourWeekly := every(on("2025-01-04"), on("2025-11-22"), 28)
	gone := make(map[string]bool)
	for _, d := range dates {
		for _, b := range k.birds {
			if !belongs(b) || d-b.hatched < 25 {
				continue
			}
			if b.left != 0 && d >= b.left && !gone[b.ring] {
				gone[b.ring] = true
				p.add(typed(d), text(b.ring), text(b.name), text(b.how), workbook.Cell{}, workbook.Cell{}, workbook.Cell{}, text("feathers by the fence"))
				n.Gone++
			}
			if !b.here(d) {
				continue
			}
			row := []workbook.Cell{typed(d), text(b.ring), text(b.name), weightCell(b, d, p, file, truth)}
			n.Weights++
			// Young birds are weighed every fortnight and handled for lice every four weeks, before the show
			// every fortnight.
			if looked := d >= on("2025-08-30") || slices.Contains(fourWeekly, d); looked && d-b.hatched >= 30 {
				row = append(row, score(b.condition(d)), score(k.louse(b, d)), score(b.mite(d)))
				n.Conditions++
				n.Lice++
				n.Mites++
			} else {
				row = append(row, workbook.Cell{}, workbook.Cell{}, workbook.Cell{})
			}
			p.add(append(row, text(remark(b, d)))...)
		}
	}
	return p
}

func weightCell(b *bird, d day, p *page, file string, truth *datasets.Truth) workbook.Cell {
	doubt := func(raw string, g float64, why string) {
		truth.Doubtful = append(truth.Doubtful, datasets.DoubtCell{File: file, Sheet: p.name, Cell: cellName(4, p.next()), Ring: b.ring, Raw: raw, Grams: g, Why: why})
	}
	const lb = 16 * ounce
	switch {
	case b.ring == "W22-11" && d == on("2025-04-26"): // the cock of 2 lb 4 oz
		doubt("2.4", lb*2.25, "pounds with a decimal, or pounds and ounces")
		return workbook.Number(2.4, 1)
	case b.ring == "W23-11" && d == on("2025-03-01"): // typed as 1-12, which the program made a date
		doubt("2025-01-12", lb*1.75, "pounds and ounces that became a date")
		return workbook.Date(on("2025-01-12")).Format("d-mmm")
	case b.ring == "W25-05" && d == on("2025-08-02"):
		s := "abt " + lbOz(step(b.weighed(d), lb/4))
		doubt(s, step(b.weighed(d), lb/4), "an estimate")
		return text(s)
	}
	return text(lbOz(b.weighed(d)))
}

func remark(b *bird, d day) string {
	switch {
	case b.ring == "W22-01" && d == on("2025-11-08"):
		return "a few under the tail again"
	case b.ring == "W24-11" && d == on("2025-10-25"):
		return "heavy in hand"
	case b.ring == "W23-12" && d == on("2025-04-26"):
		return "broody"
	}
	return moultNote(b, d)
}
