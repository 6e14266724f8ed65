package slip

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"

	"keelmark/ingest/record"
)

// design is an invented flock over three years, weighed by a keeper of some habits. Nothing in it is data of real birds.
type design struct {
	birds  int
	every  int     // d between weighings
	miss   float64 // share of weighings left out
	noise  float64 // relative SD of a weighing
	step   float64 // g or oz to which weights are rounded
	ounces bool
	aged   bool // hatch dates are written
	byBird bool // rows sorted by bird
	cohort bool // one hatch only, with checks and spurts that all chicks share
}

// life is the true course of a bird's weight.
type life struct {
	id                           string
	born, gone                   float64
	mature, rate, hatchLog, bend float64
	lag                          float64 // of moult
	moult                        float64
	checks                       [][3]float64 // day, length, depth (spurts are negative)
	season                       float64
}

func (l life) weight(day float64) float64 {
	age := day - l.born
	// Richards growth about the Gompertz curve (bend 0), second-year filling out, moult in late summer, winter fat, checks
	// in growth, and the drop at first egg.
	u := math.Exp(-l.rate * age)
	grown := math.Exp(-l.hatchLog * u)
	if l.bend != 0 {
		start := math.Exp(-l.hatchLog * l.bend)
		grown = math.Pow(1-(1-start)*u, 1/l.bend)
	}
	w := math.Log(l.mature) + math.Log(grown) + 0.06*(1-math.Exp(-max(0, age-200)/200))
	if age > 330 {
		since := math.Mod(day-l.lag, 365)
		if since < 0 {
			since += 365
		}
		if since < 70 {
			w -= l.moult * math.Pow(math.Sin(math.Pi*since/70), 2)
		}
	}
	w += l.season * math.Cos(2*math.Pi*(day-20)/365) * min(1, age/300)
	for _, c := range l.checks {
		if d := (day - c[0]) / c[1]; d > 0 && d < 3 {
			w -= c[2] * d * math.Exp(1-d*d/2) / 1.65
		}
	}
	return math.Exp(w)
}

const year0 = record.Day(18993) // 2022-01-01

func draw(r *rand.Rand, d design) ([]life, *record.Dataset) {
	heavy := math.Log(700)
	if r.IntN(2) == 0 {
		heavy = math.Log(2400)
	}
	mixed := r.IntN(3) == 0 // two breeds in one flock
	var lives []life
	shared := life{rate: 0.022 * math.Exp(0.25*r.NormFloat64()), bend: []float64{0, 0.3, -0.15}[r.IntN(3)]}
	for range 3 {
		shared.checks = append(shared.checks, [3]float64{float64(year0) + 80 + 120*r.Float64(), 8 + 15*r.Float64(), 0.05 * r.NormFloat64()})
	}
	ds := &record.Dataset{Name: "flock"}
	for i := range d.birds {
		l := life{id: fmt.Sprintf("B%02d", i), rate: 0.022 * math.Exp(0.2*r.NormFloat64()), hatchLog: 3.6 + 0.2*r.NormFloat64(), bend: []float64{0, 0, 0.25, -0.15}[r.IntN(4)],
			lag: 210 + 30*r.NormFloat64(), moult: 0.05 + 0.1*r.Float64(), season: 0.03 * r.Float64()}
		if l.bend < 0 {
			l.hatchLog = min(l.hatchLog, 3.4)
		}
		sex := []record.Sex{record.Male, record.Female, record.Female}[r.IntN(3)]
		level, breed, size := heavy, "Brook", record.Bantam
		if mixed && i%2 == 0 {
			level, breed, size = math.Log(3200), "Ridge", record.Large
		}
		if sex == record.Male {
			level += 0.22
		}
		l.mature = math.Exp(level + 0.1*r.NormFloat64())
		l.born = float64(year0) + []float64{-700, -400, 90, 455, 820}[r.IntN(5)] + 40*r.Float64()
		l.gone = math.Inf(1)
		if r.IntN(4) == 0 {
			l.gone = l.born + 200 + 500*r.Float64()
		}
		if d.cohort {
			l.born = float64(year0) + 60 + 6*r.Float64()
			l.rate, l.bend = shared.rate*math.Exp(0.06*r.NormFloat64()), shared.bend
			l.checks = append(l.checks, shared.checks...)
		}
		for range r.IntN(4) { // checks and spurts in growth
			l.checks = append(l.checks, [3]float64{l.born + 20 + 120*r.Float64(), 8 + 15*r.Float64(), 0.06 * r.NormFloat64()})
		}
		for range r.IntN(3) { // broodiness, lay, illness
			l.checks = append(l.checks, [3]float64{float64(year0) + 1095*r.Float64(), 10 + 20*r.Float64(), 0.03 + 0.07*r.Float64()})
		}
		b := record.Bird{ID: l.id, Ring: l.id, Sex: sex, Breed: breed, Size: size}
		if d.aged {
			b.Hatched = record.On(record.Day(l.born))
		}
		lives, ds.Birds = append(lives, l), append(ds.Birds, b)
	}
	row := int32(1)
	write := func(day record.Day, l life) {
		if age := float64(day) - l.born; age < 14 || float64(day) > l.gone || r.Float64() < d.miss {
			return
		}
		row++
		w := l.weight(float64(day)) * math.Exp(d.noise*r.NormFloat64())
		o := record.Observation{Bird: l.id, On: record.On(day), Trait: record.Weight, At: record.Ref{File: "w.xlsx", Sheet: "W", Row: row, Col: 3}}
		unit := 1.0
		if d.ounces {
			unit = gramsPerOunce
		}
		typed := math.Round(w/unit/d.step) * d.step
		o.Text, o.Value = strconv.FormatFloat(typed, 'f', -1, 64), typed*unit
		if d.aged {
			o.Age = record.AgeDays(int(day - record.Day(l.born)))
		}
		ds.Observations = append(ds.Observations, o)
	}
	var days []record.Day
	for day := year0 + record.Day(r.IntN(10)); day < year0+1095; day += record.Day(d.every) {
		days = append(days, day+record.Day(r.IntN(3)))
	}
	if d.byBird {
		for _, l := range lives {
			for _, day := range days {
				write(day, l)
			}
		}
	} else {
		for _, day := range days {
			for _, l := range lives {
				write(day, l)
			}
		}
	}
	return lives, ds
}

// designs are the habits that clean flocks are drawn from.
func designs(r *rand.Rand) design {
	d := design{birds: 10 + r.IntN(71), every: []int{7, 14, 14, 28, 28, 42}[r.IntN(6)], miss: 0.3 * r.Float64(), noise: 0.02 + 0.02*r.Float64(),
		step: []float64{1, 1, 5, 10}[r.IntN(4)], aged: r.IntN(3) > 0, byBird: r.IntN(4) == 0}
	if r.IntN(5) == 0 {
		d.ounces, d.step = true, []float64{0.25, 0.5}[r.IntN(2)]
	}
	d.cohort = r.IntN(4) == 0
	if d.every == 7 {
		d.birds = min(d.birds, 30)
	}
	return d
}
