package main

import (
	"fmt"

	"keelmark/datasets"
	"keelmark/ingest/record"
)

// show is the day of the invented show.
const show day = 20435 // 2025-12-13, a Saturday; checked by a test

// standard names the standard that the flock is judged by.
const standard = "American Standard (APA/ABA)"

// flock is a set of birds with the dates on which lice were treated.
type flock struct {
	birds    []*bird
	dustings []dusting
}

type dusting struct {
	pen    string
	on     day
	second bool
	clears float64
}

// keeperFlock is the keeper's flock. Some birds are set rather than drawn, for what the demo has to show.
func keeperFlock() *flock {
	const m, f, large, bantam = record.Male, record.Female, record.Large, record.Bantam
	plan := []bird{
		{ring: "W22-01", name: "Ærø", sex: m, breed: "Sussex", variety: "Light", size: large, pen: "A", hatched: on("2022-03-18"), adult: 4150},
		{ring: "W22-02", name: "Žofie", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "A", hatched: on("2022-03-18")},
		{ring: "W22-03", name: "Maren", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "A", hatched: on("2022-03-18"),
			left: on("2024-09-14"), how: "sold"},
		{ring: "W22-11", name: "Mustard", sex: m, breed: "Sussex", variety: "Speckled", size: bantam, pen: "B", hatched: on("2022-04-08"), adult: 1035},
		{ring: "W22-21", name: "Pearl", sex: f, breed: "Hamburg", variety: "Silver Spangled", size: large, pen: "C", hatched: on("2022-04-02"), adult: 1490}, // near the lower edge
		{ring: "W23-01", name: "Tove", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "A", hatched: on("2023-03-25")},
		{ring: "W23-02", name: "Linnea", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "A", hatched: on("2023-03-25")},
		{ring: "W23-03", name: "", sex: m, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2023-03-25"),
			left: on("2023-10-28"), how: "sold"},
		{ring: "W23-04", name: "", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2023-03-25"),
			left: on("2023-07-20"), how: "died", why: "found dead in the ark"},
		{ring: "W23-11", name: "Orla", sex: f, breed: "Sussex", variety: "Speckled", size: bantam, pen: "B", hatched: on("2023-04-08"), adult: 800},
		{ring: "W23-12", name: "Biscuit", sex: f, breed: "Sussex", variety: "Speckled", size: bantam, pen: "B", hatched: on("2023-04-08"),
			unseen: on("2025-05-20")}, // not checked for long
		{ring: "W23-21", name: "Flint", sex: m, breed: "Hamburg", variety: "Silver Spangled", size: large, pen: "C", hatched: on("2023-04-01")},
		{ring: "W23-31", name: "Marzipan", sex: m, breed: "Sebright", variety: "Golden", size: bantam, pen: "B", hatched: on("2023-05-06"), adult: 625},
		{ring: "W23-32", name: "Ember", sex: f, breed: "Sebright", variety: "Golden", size: bantam, pen: "B", hatched: on("2023-05-06")},
		{ring: "W24-01", name: "Sorcha", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "A", hatched: on("2024-03-30")},
		{ring: "W24-11", name: "Nutmeg", sex: f, breed: "Sussex", variety: "Speckled", size: bantam, pen: "B", hatched: on("2024-04-13"), adult: 1165}, // over the band
		{ring: "W24-21", name: "Opal", sex: f, breed: "Hamburg", variety: "Silver Spangled", size: large, pen: "C", hatched: on("2024-04-06")},
		{ring: "W24-22", name: "Wren", sex: f, breed: "Hamburg", variety: "Silver Spangled", size: large, pen: "C", hatched: on("2024-04-06"),
			left: on("2025-08-12"), how: "fox"},
		{ring: "W24-41", name: "Nguyệt", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2024-12-05"), adult: 2690}, // a hen at the show, a pullet today
		{ring: "W25-01", name: "Bodil", sex: m, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2025-03-28"), adult: 4120},
		{ring: "W25-02", name: "", sex: m, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2025-03-28"), adult: 3120}, // light for a cockerel
		{ring: "W25-03", name: "", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2025-03-28")},
		{ring: "W25-04", name: "Zdenka", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2025-03-28")},
		{ring: "W25-05", name: "", sex: f, breed: "Sussex", variety: "Light", size: large, pen: "D", hatched: on("2025-03-28")},
		{ring: "W25-11", name: "Çiçek", sex: f, breed: "Sussex", variety: "Speckled", size: bantam, pen: "D", hatched: on("2025-04-12")},
		{ring: "W25-12", name: "", sex: m, breed: "Sussex", variety: "Speckled", size: bantam, pen: "D", hatched: on("2025-04-12")},
		{ring: "W25-13", name: "", sex: f, breed: "Sussex", variety: "Speckled", size: bantam, pen: "D", hatched: on("2025-04-12")},
		{ring: "W25-21", name: "", sex: m, breed: "Hamburg", variety: "Silver Spangled", size: large, pen: "D", hatched: on("2025-04-05")},
		{ring: "W25-31", name: "Sötnos", sex: m, breed: "Sebright", variety: "Golden", size: bantam, pen: "D", hatched: on("2025-05-03")},
		{ring: "W25-32", name: "", sex: f, breed: "Sebright", variety: "Golden", size: bantam, pen: "D", hatched: on("2025-05-03")},
	}
	k := &flock{}
	for i := range plan {
		plan[i].grow(1, show)
		k.birds = append(k.birds, &plan[i])
	}
	return k
}

// louse is the score of lice that the keeper gives the bird.
func (k *flock) louse(b *bird, d day) int { return b.louse(d, k.dustings) }

// bird finds a bird by its ring.
func (k *flock) bird(ring string) *bird {
	for _, b := range k.birds {
		if b.ring == ring {
			return b
		}
	}
	panic("no bird " + ring) // a ring of this program's own
}

// spreadLice gives the birds the lice of three years and clears them by treatments. All of it is invented.
func (k *flock) spreadLice(truth *datasets.Truth) {
	type outbreak struct {
		pen       string
		from      day
		treatedOn []day
	}
	for _, o := range []outbreak{
		{"B", on("2023-06-08"), []day{on("2023-07-02"), on("2023-07-10")}},
		{"A", on("2023-10-04"), []day{on("2023-11-05"), on("2023-11-13")}},
		{"A", on("2024-06-12"), []day{on("2024-07-07"), on("2024-08-04"), on("2024-08-12")}},
		{"C", on("2024-10-10"), []day{on("2024-11-03"), on("2024-11-11")}},
		{"D", on("2025-06-04"), []day{on("2025-06-22"), on("2025-06-30")}},
		{"A", on("2025-09-01"), []day{on("2025-09-14"), on("2025-09-22")}},
		{"B", on("2025-09-01"), []day{on("2025-09-14"), on("2025-09-22")}},
		{"C", on("2025-09-03"), []day{on("2025-10-12"), on("2025-10-20")}}, // left for comparison, then treated
	} {
		caught, last := 0, day(0)
		for _, b := range k.birds {
			r := dice(fmt.Sprint("lice ", b.ring, o.from))
			from, catches := o.from+day(r.IntN(9)), r.Float64() < 0.9
			if b.pen != o.pen || !catches || from < b.hatched+30 || !b.here(from) {
				continue
			}
			until := o.treatedOn[len(o.treatedOn)-1]
			if r.Float64() >= secondClears {
				until += 35 // a missed bird
			}
			b.lice = append(b.lice, span{from, until})
			caught, last = caught+1, max(last, until)
		}
		truth.Outbreaks = append(truth.Outbreaks, datasets.Outbreak{
			Pen: o.pen, From: o.from.String(), Until: last.String(), Birds: caught})
		for i, d := range o.treatedOn {
			second := i > 0 && d-o.treatedOn[i-1] >= 7 && d-o.treatedOn[i-1] <= 10
			clears := 0.0
			if second {
				clears = secondClears
			}
			k.dustings = append(k.dustings, dusting{o.pen, d, second, clears})
		}
	}
	// One bird has lice again, seven weeks after its second treatment with clean checks between, and gives them to a
	// pen mate.
	back, mate := k.bird("W22-01"), k.bird("W24-01")
	back.lice = append(back.lice, span{from: on("2025-11-01")})
	mate.lice = append(mate.lice, span{from: on("2025-11-09")})
	truth.Outbreaks = append(truth.Outbreaks, datasets.Outbreak{Pen: back.pen, From: "2025-11-01", Birds: 2})
	for _, d := range k.dustings {
		truth.Dustings = append(truth.Dustings, datasets.Dusting{Pen: d.pen, On: d.on.String(), Second: d.second, Clears: d.clears})
	}
}

// secondClears is the chance that a second treatment, 7 to 10 days after the first, rids a bird of lice. A
// first one never does: the eggs outlive it. Invented.
const secondClears = 0.95
