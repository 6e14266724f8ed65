package main

import (
	"hash/fnv"
	"math"
	"math/rand/v2"

	"keelmark/datasets"
	"keelmark/ingest/record"
)

// noiseCV is the error of one weighing: crop, time of day, a bird that will not sit still.
//
// Source: invented, in the 2 to 4 % that the project's notes take for a kitchen or hanging scale.
const noiseCV = 0.022

type day = record.Day

// on is an ISO date that is known to be one.
func on(iso string) day {
	d, err := record.ParseDay(iso)
	if err != nil {
		panic(err) // a date of this program's own
	}
	return d
}

// dice gives the random numbers for one purpose, so that a change to one bird leaves the others alone.
func dice(purpose string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// bird is one simulated bird.
type bird struct {
	ring, name  string
	sex         record.Sex
	breed       string
	variety     string
	size        record.Size
	pen         string
	hatched     day
	left        day    // 0: still there
	how, why    string // of leaving
	unseen      day    // no records from this day on; 0: all
	adult       float64
	chick, rate float64
	moults      []moult
	lice        []span
}

type moult struct {
	from day
	days int
	loss float64
}

// span is a stretch of days; until is not included, 0 means that it lasts.
type span struct{ from, until day }

func (s span) holds(d day) bool { return d >= s.from && (s.until == 0 || d < s.until) }

// growth is how birds of a breed, size and sex grow: adult and chick weight in grams, rate per day.
//
// Source: adult weights stand near the published weights of cock and hen in breeds/weights.csv. Chick weight
// and rate are invented: they bring heavy pullets to about 1 kg at 12 weeks, as the five stations of Upp 1928
// (Poultry Science 7, table 1) found 880 to 1039 g, and birds of nine months to the share of the adult weight
// that published cockerel and pullet weights have.
type growth struct{ adult, chick, rate float64 }

func growthOf(breed string, size record.Size, sex record.Sex) growth {
	male := sex == record.Male
	pick := func(m, f growth) growth {
		if male {
			return m
		}
		return f
	}
	switch {
	case breed == "Sussex" && size == record.Large:
		return pick(growth{4080, 42, 0.0160}, growth{3150, 41, 0.0166})
	case breed == "Sussex":
		return pick(growth{1010, 27, 0.0182}, growth{845, 26, 0.0186})
	case breed == "Hamburg":
		return pick(growth{2240, 36, 0.0174}, growth{1800, 35, 0.0178})
	}
	return pick(growth{635, 22, 0.0190}, growth{560, 22, 0.0194}) // Sebright
}

// grow draws what makes this bird differ from its kin. An adult weight already set is kept.
func (b *bird) grow(level float64, until day) {
	r, g := dice("growth "+b.ring), growthOf(b.breed, b.size, b.sex)
	a := g.adult * level * math.Exp(0.05*r.NormFloat64())
	if b.adult == 0 {
		b.adult = math.Round(a)
	}
	b.chick = math.Round(g.chick * math.Exp(0.05*r.NormFloat64()))
	b.rate = math.Round(g.rate*math.Exp(0.05*r.NormFloat64())*1e5) / 1e5
	b.moult(until)
}

// moult gives the bird a moult in every autumn after its first birthday. The figures are invented: no
// published loss in natural moult was found for exhibition breeds.
func (b *bird) moult(until day) {
	r := dice("moult " + b.ring)
	first, _, _ := b.hatched.Date()
	last, _, _ := until.Date()
	for y := first; y <= last; y++ {
		from, _ := record.DayOf(y, 8, 20)
		from += day(math.Round(12 * r.NormFloat64()))
		m := moult{from, 58 + r.IntN(20), math.Round(100*(0.07+0.05*r.Float64())) / 100}
		if from > b.hatched+365 {
			b.moults = append(b.moults, m)
		}
	}
}

// weight is the true weight in grams: Gompertz growth through the chick's weight at hatch, less the loss of a
// moult, which is deepest at its middle.
func (b *bird) weight(d day) float64 {
	w := b.adult * math.Exp(-math.Log(b.adult/b.chick)*math.Exp(-b.rate*float64(d-b.hatched)))
	for _, m := range b.moults {
		if t := float64(d-m.from) / float64(m.days); t > 0 && t < 1 {
			s := math.Sin(math.Pi * t)
			w *= 1 - m.loss*s*s
		}
	}
	return w
}

// weighed is what the scale shows before it is rounded.
func (b *bird) weighed(d day) float64 {
	return b.weight(d) * math.Exp(noiseCV*dice("weighing "+b.ring+d.String()).NormFloat64())
}

// moulting reports whether the keeper sees the bird moult.
func (b *bird) moulting(d day) bool {
	for _, m := range b.moults {
		if t := float64(d-m.from) / float64(m.days); t > 0.2 && t < 0.8 {
			return true
		}
	}
	return false
}

// here reports whether the bird is in the flock and may be looked at.
func (b *bird) here(d day) bool {
	return d > b.hatched && (b.left == 0 || d < b.left) && (b.unseen == 0 || d < b.unseen)
}

// condition is the keeper's score 0 to 3, 3 fullest: it follows the weight of the bird against its own curve
// without moult, with an error of the hand.
func (b *bird) condition(d day) int {
	plain := *b
	plain.moults = nil
	r := dice("hand " + b.ring + d.String())
	score := 2.3 - 14*(1-b.weight(d)/plain.weight(d)) + 0.35*r.NormFloat64()
	if age := d - b.hatched; age < 120 {
		score -= 0.5 // young birds are lean while they grow
	}
	return int(math.Round(min(3, max(0, score))))
}

// lousy reports whether the bird carries lice.
func (b *bird) lousy(d day) bool {
	for _, s := range b.lice {
		if s.holds(d) {
			return true
		}
	}
	return false
}

// louse is the keeper's score of lice on a day: 0 none seen to 3 heavy. A look misses lice one time in ten; a
// treatment of the pen knocks them down until their eggs have hatched.
func (b *bird) louse(d day, dustings []dusting) int {
	r := dice("check " + b.ring + d.String())
	for _, s := range b.lice {
		if !s.holds(d) || r.Float64() < 0.1 {
			continue
		}
		for _, t := range dustings {
			if t.pen == b.pen && d >= t.on && d-t.on <= 9 && r.Float64() < 0.8 {
				return 0
			}
		}
		weeks := float64(d-s.from) / 7
		return int(math.Round(min(3, 0.9+0.32*weeks+0.35*r.NormFloat64())))
	}
	return 0
}

// mite is the score of mites about the vent: a light find now and then, apart from lice.
func (b *bird) mite(d day) int {
	if dice("mite "+b.ring+d.String()).Float64() < 0.015 {
		return 1
	}
	return 0
}

// truth is the bird as tests may know it.
func (b *bird) truth(standards []record.PublishedWeight) datasets.TrueBird {
	t := datasets.TrueBird{
		Ring: b.ring, Name: b.name, Sex: b.sex, Breed: b.breed, Size: b.size, Pen: b.pen, Hatched: b.hatched.String(),
		Adult: b.adult, Chick: b.chick, Rate: b.rate,
	}
	for _, m := range b.moults {
		t.Moults = append(t.Moults, datasets.Moult{From: m.from.String(), Days: m.days, Loss: m.loss})
	}
	for _, s := range b.lice {
		until := ""
		if s.until != 0 {
			until = s.until.String()
		}
		t.Infested = append(t.Infested, [2]string{s.from.String(), until})
	}
	if b.left != 0 {
		t.Left = b.left.String()
		return t
	}
	t.ShowWeight = math.Round(b.weight(show))
	t.ShowClass = classOn(b, show)
	for _, s := range standards {
		if s.Breed != b.breed || s.Size != b.size || s.Standard != standard || s.Variety != "" {
			continue
		}
		if w := s.Weights[t.ShowClass]; w.Published() {
			t.Low, t.High = math.Round(0.8*w.Low), math.Round(1.2*w.High)
			t.Inside = t.ShowWeight >= t.Low && t.ShowWeight <= t.High
		}
	}
	return t
}

// classOn is the class by the birthday rule.
func classOn(b *bird, d day) record.Class {
	old := d >= b.hatched.AddMonths(12)
	switch {
	case b.sex == record.Male && old:
		return record.Cock
	case b.sex == record.Male:
		return record.Cockerel
	case old:
		return record.Hen
	}
	return record.Pullet
}
