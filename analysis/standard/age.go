package standard

import (
	"fmt"
	"math"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// A published standard gives weights of classes, not of ages. What a grown weight suggests for a young bird is drawn by a
// curve of Keelmark's own: no standard states it, and its range is as wide as published flocks differ.
const (
	// ageRate per week and ageInflection in weeks are the middle of published growth, and the SDs what flocks, strains and
	// feeding make of them; ageMature is how far a flock's grown birds lie from the published weight.
	//
	// Source: ages at 37 % of grown weight: Kadaknath 9 to 17.5 weeks (96 birds, abstract), Shaobo, Huaixiang and Youxi
	// 5.1 to 6.2 (Zhao et al. 2015); weights at 8, 20 and 30 weeks of Aseel Peela, at 4 and 12 of Plymouth Rock and Rhode
	// Island Red pullets (Upp 1928, Poult. Sci. 7, Table 1); the values are Keelmark's own fit by eye to these.
	ageRate       = 0.12
	ageInflection = 10.5
	ageRateSD     = 0.20
	ageInflectSD  = 0.30
	ageMatureSD   = 0.12
	// FirstAge and GrownAge bound, in weeks, the ages that the curve is for.
	FirstAge = 4
	GrownAge = 52
)

// AtAge is what a published grown weight suggests a bird of the sex weighs at an age in weeks, with a 90 % range in g. It
// refuses where the row prints no grown weight of the sex, and outside FirstAge to GrownAge.
//
// Source: Gompertz curve (Winsor 1932, PNAS 18:1) with log-normal errors of its parameters to first order.
func AtAge(row record.PublishedWeight, sex record.Sex, age float64) (analysis.Estimate, *analysis.Refusal) {
	class := record.Hen
	if sex == record.Male {
		class = record.Cock
	}
	printed := row.Weights[class]
	switch {
	case sex == "":
		return analysis.Estimate{}, &analysis.Refusal{Needs: "the sex is not known, and males and females grow to different weights", Next: "write the sex"}
	case !printed.Published():
		return analysis.Estimate{}, &analysis.Refusal{
			Needs: fmt.Sprintf("the source (%s) prints no %s weight for %s", RowName(row), class, row.Breed),
			Next:  "give the published weight as a table of your own",
		}
	case !(age >= FirstAge && age <= GrownAge):
		return analysis.Estimate{}, &analysis.Refusal{
			Needs: fmt.Sprintf("a grown weight suggests nothing at %.0f weeks: the curve is for %d to %d weeks", age, FirstAge, GrownAge),
			Next:  "choose another age",
		}
	}
	grown, _ := Band{Printed: printed}.Target()
	x := ageRate * (age - ageInflection)
	u := math.Exp(-x)
	sd := math.Sqrt(math.Pow(ageMatureSD, 2) + math.Pow(u*x*ageRateSD, 2) + math.Pow(u*ageRate*ageInflection*ageInflectSD, 2))
	middle := grown * math.Exp(-u)
	return analysis.Estimate{Value: middle, Low: middle * math.Exp(-z*sd), High: middle * math.Exp(z*sd), Level: level, Unit: "g"}, nil
}
