// Package invent makes flocks whose truth is known, to see how often the ranges of a forecast hold. Nothing in it is of
// a real bird.
//
// Its birds grow by Richards curves of one shape; it refuses to know how a forecast is made.
package invent

import (
	"fmt"
	"math"
	"math/rand/v2"

	"keelmark/ingest/record"
)

// Design is an invented flock of one line and sex, weighed at regular ages.
type Design struct {
	Birds       int
	First       float64 // weeks; the first weighing, 2 where 0
	Last, Step  float64 // weeks
	Noise       float64 // relative SD of a good weighing
	Bad         float64 // share of weighings off by 10 to 30 %
	Shape       float64 // 0 Gompertz, 1 logistic
	Relatives   int     // of the same line, hatched two years before, followed to 30 weeks and gone since
	Setback     float64 // log weight lost by the whole flock at 9 to 11 weeks, regained slowly
	TableWeight float64 // g, about which lines lie; 800 where 0
}

// Flock is an invented flock with its truths.
type Flock struct {
	Data  *record.Dataset
	Today record.Day // of the last age at which the flock may be weighed
	Truth []Truth    // of each bird of the flock, relatives left out
}

// Truth is what no record of the flock tells.
type Truth struct {
	Bird  string
	Later float64 // g: a good weighing 4 weeks after Today
	Adult float64 // g: the weight at 60 weeks
}

// hatched is an arbitrary day, 2025-03-01.
const hatched record.Day = 20148

// Table is the published weight about which lines lie, in g.
func (d Design) Table() float64 {
	if d.TableWeight > 0 {
		return d.TableWeight
	}
	return 800
}

// Typical is the log weight at an age in weeks of a line that lies where the table has it.
func (d Design) Typical(age float64) float64 {
	return growth{math.Log(d.Table()), 0.167, 8.5, d.Shape}.at(age)
}

// Flock draws a flock: the line differs from the table by SD 12 % in mature weight, 15 % in rate (0.167 per week) and
// 12 % in age at inflection (8.5 weeks); birds differ within it by 12, 12 and 10 %.
//
// Source: Keelmark's own choice, about published layer-type curves; the same as in its planning.
func (d Design) Flock(r *rand.Rand) Flock {
	first := d.First
	if first == 0 {
		first = 2
	}
	line := [3]float64{math.Log(d.Table()) + 0.12*r.NormFloat64(), math.Log(0.167) + 0.15*r.NormFloat64(), math.Log(8.5) + 0.12*r.NormFloat64()}
	out := Flock{Data: &record.Dataset{Name: "invented"}, Today: hatched + day(d.Last)}
	for i := range d.Birds + d.Relatives {
		own := growth{line[0] + 0.12*r.NormFloat64(), math.Exp(line[1] + 0.12*r.NormFloat64()), math.Exp(line[2] + 0.10*r.NormFloat64()), d.Shape}
		b := record.Bird{ID: fmt.Sprintf("B%02d", i+1), Breed: "Invented", Size: record.Bantam, Sex: record.Female, Hatched: record.On(hatched),
			At: []record.Ref{{File: "birds.csv", Row: int32(i + 2), Col: 1}}}
		last, relative := d.Last, i >= d.Birds
		if relative {
			last, b.Hatched = 30, record.On(hatched-730)
			out.Data.Events = append(out.Data.Events, record.Event{Kind: record.Departed, Bird: b.ID, On: record.On(b.Hatched.First + day(31))})
		}
		weight := func(age float64) float64 {
			f := own.at(age)
			if d.Setback > 0 && !relative && age > 9 {
				f -= d.Setback * min(1, (age-9)/2) * math.Exp(-max(0, age-11)/10)
			}
			return f
		}
		row := 2
		for age := first; age <= last+1e-9; age += d.Step {
			e := d.Noise * r.NormFloat64()
			if r.Float64() < d.Bad {
				off := math.Log1p(0.1 + 0.2*r.Float64())
				if r.IntN(2) == 0 {
					off = -off
				}
				e += off
			}
			out.Data.Observations = append(out.Data.Observations, record.Observation{
				Bird: b.ID, On: record.On(b.Hatched.First + day(age)), Trait: record.Weight, Value: math.Exp(weight(age) + e),
				At: record.Ref{File: "weights.csv", Row: int32(row), Col: int32(i + 2)},
			})
			row++
		}
		out.Data.Birds = append(out.Data.Birds, b)
		if !relative {
			out.Truth = append(out.Truth, Truth{b.ID, math.Exp(weight(d.Last+4) + d.Noise*r.NormFloat64()), math.Exp(weight(60))})
		}
	}
	return out
}

func day(weeks float64) record.Day { return record.Day(math.Round(7 * weeks)) }

// growth is a Richards curve of log weight.
//
// Source: Richards 1959, J. Exp. Bot. 10:290, with the inflection at ti for every shape.
type growth struct{ logA, k, ti, shape float64 }

func (g growth) at(age float64) float64 {
	u := math.Exp(-g.k * (age - g.ti))
	if math.Abs(g.shape) < 1e-9 {
		return g.logA - u
	}
	base := 1 + g.shape*u
	if base < 0.05 {
		return math.Log(5) // a chick that the curve has no weight for
	}
	return g.logA - math.Log(base)/g.shape
}
