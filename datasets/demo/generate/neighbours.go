package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"strings"

	"keelmark/datasets"
	"keelmark/ingest/record"
	"keelmark/ingest/workbook"
)

// neighbour is a flock of another keeper: grown birds and one habit of looking.
type neighbour struct {
	code, country string
	standard      string
	south         bool
	birds         int
	lines         []line // dealt out in turn
	level         float64
	weighedEvery  int // days
	checkedEvery  int
	share         float64 // of the birds looked at on a day of checks
	strays        float64 // lice outside outbreaks, times a bird and year
	outbreak      span
	file          string
	unit          string // of the weights: "g" or "oz"
	scale         string // of condition: "0-3" or "1-5"
}

type line struct {
	breed string
	size  record.Size
}

// neighbours are invented like the rest. They differ in size, effort and lice, so that a comparison has
// something to say and something to refuse.
func neighbours() []neighbour {
	sussex, small := line{"Sussex", record.Large}, line{"Sussex", record.Bantam}
	hamburg, sebright := line{"Hamburg", record.Large}, line{"Sebright", record.Bantam}
	return []neighbour{
		{code: "K1", country: "US", standard: standard, birds: 8, lines: []line{small}, level: 1.02, weighedEvery: 14, checkedEvery: 7, share: 1, strays: 0.1,
			outbreak: span{on("2025-06-10"), on("2025-07-08")}, file: "records.csv", unit: "g", scale: "0-3"},
		{code: "K2", country: "US", standard: standard, birds: 14, lines: []line{hamburg}, level: 0.97, weighedEvery: 28, checkedEvery: 28, share: 0.95, strays: 0.2,
			outbreak: span{on("2025-08-20"), on("2025-10-25")}, file: "hamburgs.csv", unit: "oz", scale: "0-3"},
		{code: "K3", country: "US", standard: standard, birds: 22, lines: []line{sussex}, level: 0.93, weighedEvery: 28, checkedEvery: 28, share: 0.9, strays: 0.4,
			outbreak: span{on("2025-02-10"), on("2025-05-01")}, file: "sussex.xlsx", unit: "g", scale: "0-3"},
		{code: "K4", country: "US", standard: standard, birds: 35, lines: []line{sussex, small, hamburg, sebright}, level: 1, weighedEvery: 42, checkedEvery: 42, share: 0.7, strays: 0.5,
			outbreak: span{on("2025-09-15"), 0}, file: "all-birds.csv", unit: "g", scale: "1-5"},
		{code: "K5", country: "US", standard: standard, birds: 60, lines: []line{sussex, small}, level: 1.04, weighedEvery: 91, checkedEvery: 91, share: 0.3, strays: 1.2,
			file: "yard.xlsx", unit: "g", scale: "0-3"},
		{code: "K6", country: "ZA", standard: "Southern African Show Poultry Organisation / Poultry Club SA", south: true, birds: 12, lines: []line{sussex}, level: 0.98,
			weighedEvery: 28, checkedEvery: 14, share: 1, strays: 0.1, outbreak: span{on("2025-03-20"), on("2025-05-10")}, file: "sussex-2025.csv", unit: "g", scale: "0-3"},
	}
}

// The year that the neighbours' records cover.
func neighbourYear() (first, last day) { return on("2024-12-07"), on("2025-11-22") }

// files simulates the flock and writes its settings and its records.
func (n neighbour) files(truth *datasets.Truth) ([]file, error) {
	folder := datasets.DemoNeighbours + "/" + strings.ToLower(n.code)
	counts := datasets.FileCounts{Flock: folder, File: n.file}
	birds := n.flock()
	rows := n.records(birds, &counts)
	truth.Flocks = append(truth.Flocks, n.truth(birds))
	data, err := n.table(birds, rows, counts, truth)
	return []file{
		{"files/" + folder + "/flock.toml", []byte(n.toml())},
		{"files/" + folder + "/" + n.file, data},
	}, err
}

// records is the table of the flock, headings first: a row for each bird that was looked at on a day.
func (n neighbour) records(birds []*bird, counts *datasets.FileCounts) [][]string {
	rows := [][]string{{"date", "ring", "breed", "size", "sex", "hatched", "weight (" + n.unit + ")", "condition (" + n.scale + ")", "lice (0-3)"}}
	first, last := neighbourYear()
	for d := first; d <= last; d++ {
		weigh, check := (d-first)%day(n.weighedEvery) == 0, (d-first)%day(n.checkedEvery) == 0
		if !weigh && !check {
			continue
		}
		for _, b := range birds {
			if d-b.hatched < 40 || dice(n.code+" look "+b.ring+d.String()).Float64() >= n.share {
				continue
			}
			row := []string{d.String(), b.ring, b.breed, string(b.size), string(b.sex), b.hatched.String(), "", "", ""}
			if weigh {
				row[6] = n.onScale(b.weighed(d))
				counts.Weights++
			}
			if check {
				condition := b.condition(d)
				if n.scale == "1-5" {
					condition = int(math.Round(1 + 4*float64(condition)/3))
				}
				row[7], row[8] = fmt.Sprint(condition), fmt.Sprint(b.louse(d, nil))
				counts.Conditions++
				counts.Lice++
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// onScale is a weight as the flock's scale shows it.
func (n neighbour) onScale(g float64) string {
	if n.unit == "oz" {
		return fmt.Sprintf("%.1f", step(g/ounce, 0.5))
	}
	return fmt.Sprintf("%.0f", g)
}

func (n neighbour) truth(birds []*bird) datasets.TrueFlock {
	out := datasets.TrueFlock{Code: n.code, Hemisphere: n.hemisphere(), Birds: n.birds, Comparable: n.scale == "0-3"}
	first, last := neighbourYear()
	lousy, all := 0, 0
	for _, b := range birds {
		out.Level += b.adult / growthOf(b.breed, b.size, b.sex).adult / float64(len(birds))
		for d := first; d <= last; d++ {
			all++
			if b.lousy(d) {
				lousy++
			}
		}
	}
	for d := first; d <= last; d += day(n.checkedEvery) {
		out.Checks++
	}
	out.Lousy = math.Round(1000*float64(lousy)/float64(all)) / 1000
	out.Level = math.Round(1000*out.Level) / 1000
	return out
}

// flock makes the birds: three in four are hens, hatched over the two springs before.
func (n neighbour) flock() []*bird {
	first, last := neighbourYear()
	var out []*bird
	for i := range n.birds {
		r := dice(fmt.Sprint(n.code, " bird ", i))
		l := n.lines[i%len(n.lines)]
		spring := [...]string{"2023-03-20", "2024-03-20"}[i%2]
		if n.south {
			spring = [...]string{"2023-09-20", "2024-09-20"}[i%2]
		}
		b := &bird{ring: fmt.Sprintf("%s-%02d", n.code, i+1), sex: record.Female, breed: l.breed, size: l.size, hatched: on(spring) + day(r.IntN(45))}
		if i%4 == 3 {
			b.sex = record.Male
		}
		b.grow(n.level, last)
		if n.south {
			for j := range b.moults {
				b.moults[j].from += 182
			}
		}
		if n.outbreak.from != 0 && r.Float64() < 0.7 {
			b.lice = append(b.lice, span{n.outbreak.from + day(r.IntN(14)), n.outbreak.until})
		}
		for from := first + day(r.ExpFloat64()*365/n.strays); from < last; from += day(r.ExpFloat64() * 365 / n.strays) {
			b.lice = append(b.lice, span{from, from + 20 + day(r.IntN(30))})
		}
		out = append(out, b)
	}
	return out
}

func (n neighbour) hemisphere() string {
	if n.south {
		return "south"
	}
	return "north"
}

// table writes the rows as the flock's keeper does: text, or a workbook with a list of all birds, seen or not.
func (n neighbour) table(birds []*bird, rows [][]string, counts datasets.FileCounts, truth *datasets.Truth) ([]byte, error) {
	if strings.HasSuffix(n.file, ".csv") {
		truth.Files = append(truth.Files, counts)
		var out bytes.Buffer
		w := csv.NewWriter(&out)
		if err := w.WriteAll(rows); err != nil {
			return nil, err
		}
		return out.Bytes(), nil
	}
	p := &page{name: "Records"}
	p.headings(rows[0]...)
	for _, r := range rows[1:] {
		cells := []workbook.Cell{workbook.Date(on(r[0])), text(r[1]), text(r[2]), text(r[3]), text(r[4]), workbook.Date(on(r[5]))}
		for _, s := range r[6:] {
			cell := workbook.Cell{}
			var v float64
			if _, err := fmt.Sscan(s, &v); err == nil {
				cell = workbook.Number(v, 0)
			}
			cells = append(cells, cell)
		}
		p.add(cells...)
	}
	list := birdList("Birds", &flock{birds: birds}, func(*bird) bool { return true }, workbook.Date)
	_, data, err := book(n.file, counts, truth, list, p)
	return data, err
}

func (n neighbour) toml() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Invented demo data: no such flock or keeper exists.\n\n[flock]\nname = \"Neighbour %s (invented)\"\ncode = %q\n", n.code, n.code)
	fmt.Fprintf(&b, "country = %q\nhemisphere = %q\nstandard = %q\n\n[dates]\norder = \"ymd\"\n", n.country, n.hemisphere(), n.standard)
	condition := "min = 0\nmax = 3\ndirection = \"high-good\"\nsource = \"the words of the club: 0 keel sharp, 3 full\"\n"
	if n.scale == "1-5" {
		condition = "min = 1\nmax = 5\ndirection = \"middle-best\"\nsource = \"the keeper's own hand: 1 thin, 3 right, 5 fat\"\n"
	}
	b.WriteString("\n[scales.condition]\n" + condition)
	b.WriteString("\n[scales.lice]\nmin = 0\nmax = 3\ndirection = \"high-bad\"\nsource = \"0 none seen, 3 heavy\"\n")
	return b.String()
}
