package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// seasonal is an invented flock of hens weighed every so many days over some years: heaviest on 15 January by 6 %, 8 %
// lighter in the 8 weeks of a moult each September.
func seasonal(birds, years, every int, moults bool) *record.Dataset {
	r := rand.New(rand.NewPCG(8, uint64(birds)))
	d := &record.Dataset{Name: "Home"}
	peak, _ := record.DayOf(2024, time.January, 15)
	for i := range birds {
		id := fmt.Sprintf("H%d", i+1)
		own := math.Log(850) + 0.1*r.NormFloat64()
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: record.Female, Breed: "Sussex", Size: record.Bantam, Hatched: record.InYear(2019)})
		for y := 2021; y <= 2025 && moults; y++ {
			seen, _ := record.DayOf(y, time.September, 1)
			if seen <= today {
				d.Events = append(d.Events, record.Event{Kind: record.Moulted, Bird: id, On: record.On(seen)})
			}
		}
		row := 0
		for day := today - record.Day(365*years) + 3; day <= today; day += record.Day(every) {
			log := own + 0.06*math.Cos(2*math.Pi*float64(day-peak)/365.25) + 0.025*r.NormFloat64()
			if _, m, _ := day.Date(); moults && (m == time.September || m == time.October && day.YearDay() < 300) {
				log -= 0.08
			}
			d.Observations = append(d.Observations, weight(id, day, math.Exp(log), i, row))
			row++
		}
	}
	return d
}

func TestTheYearsCourseIsFound(t *testing.T) {
	show, _ := record.DayOf(2026, time.January, 15)
	d := seasonal(12, 3, 40, false)
	r := foreseen(t, situation(t, show), d)
	if s := r.Season; !s.Known() || math.Abs(s.Swing-0.06) > 0.015 || s.Heaviest != time.January && s.Heaviest != time.December {
		t.Errorf("%+v", s)
	}
	// In January hens are 6 % above their own middle: the forecast follows.
	f := r.Birds[0]
	sum := 0.0
	for _, w := range f.Weighings {
		sum += math.Log(w.Grams)
	}
	near(t, "January against the bird's own mean", math.Log(f.Weight.Value)-sum/float64(len(f.Weighings)), 0.055, 0.025)
	c := claimOf(t, r, "forecast.band/H1")
	if !has(c.Caveats, "over the year grown weights here move by about 6 %") && !has(c.Caveats, "about 5 %") && !has(c.Caveats, "about 7 %") {
		t.Errorf("%v", c.Caveats)
	}
}

func TestASeasonNeedsMonthsAndYears(t *testing.T) {
	for _, row := range []struct {
		months, years int
		known         bool
	}{{SeasonMonths, SeasonYears, true}, {SeasonMonths - 1, SeasonYears, false}, {SeasonMonths, SeasonYears - 1, false}} {
		s := Season{Months: row.months, Years: row.years}
		if s.Known() != row.known || has(s.caveats(false), "season's part in the weight is unknown") == row.known {
			t.Errorf("%+v: %v", row, s.caveats(false))
		}
	}
	r := foreseen(t, situation(t, today), seasonal(4, 1, 90, false))
	if r.Season.Known() || r.Season.Swing != 0 || !has(claimOf(t, r, "forecast.band/H1").Caveats, "season's part in the weight is unknown") {
		t.Errorf("%+v", r.Season)
	}
}

func TestAMoultCounts(t *testing.T) {
	r := foreseen(t, situation(t, today), seasonal(12, 3, 25, true))
	if s := r.Season; s.Moults < 20 || math.Abs(s.Moult+0.077) > 0.03 {
		t.Errorf("moult of 8 %%: %+v", s)
	}
	if c := claimOf(t, r, "forecast.band/H1"); !has(c.Caveats, "in moult grown birds here weigh about") {
		t.Errorf("%v", c.Caveats)
	}
	// Seen in moult now, with no weighing in moult to go by: the range is wider and says why.
	d := seasonal(6, 1, 60, false)
	still := foreseen(t, situation(t, today+20), d).Birds[0].Weight
	d.Events = []record.Event{{Kind: record.Moulted, Bird: "H1", On: record.On(today - 1)}}
	d.Observations = d.Observations[:len(d.Observations)]
	r = foreseen(t, situation(t, today+20), d)
	f := r.Birds[0]
	if !f.Moulting || f.Weight.High-f.Weight.Low < still.High-still.Low {
		t.Errorf("%v %+v, was %+v", f.Moulting, f.Weight, still)
	}
}

// 40 invented hens whose weights do not change: 2 would be named at 5 %; the flock's claim says so and names none or next
// to none. One that lost a fifth is named.
func TestManyBirdsRaiseFewFalseFlags(t *testing.T) {
	d := seasonal(40, 1, 60, false)
	for i := range d.Observations {
		d.Observations[i].Value = 850 * math.Exp(0.03*math.Sin(float64(7*i*i)))
	}
	r := foreseen(t, situation(t, today), d)
	c := claimOf(t, r, "forecast.changes")
	if !strings.Contains(c.Text, "8 % or more") || !strings.Contains(c.Text, "none changed") || !has(c.Caveats, "about 2.0 of 40 birds") || c.N.Birds != 40 {
		t.Errorf("%s %v", c.Text, c.Caveats)
	}
	last := d.Of("H7", record.Weight)
	for i := range d.Observations {
		if d.Observations[i].At == last[len(last)-1].At {
			d.Observations[i].Value *= 0.8
		}
	}
	if c := claimOf(t, foreseen(t, situation(t, today), d), "forecast.changes"); !strings.Contains(c.Text, "1 changed") || !strings.Contains(c.Text, "H7 by −") && !strings.Contains(c.Text, "H7 by -") {
		t.Error(c.Text)
	}
}

// The flags' claim adds the birds' own chances: by hand, 0.05 + 0.08 inside after all, 0.02 outside.
func TestFlagsCountTheirOwnDoubt(t *testing.T) {
	d := seasonal(4, 1, 60, false)
	r := foreseen(t, situation(t, today), d)
	for i, chance := range []float64{0.05, 0.08, 0.98, 0.5} {
		r.Birds[i].Chance = []float64{chance}
	}
	c := claimOf(t, r, "forecast.flags")
	for _, want := range []string{"Of 4 birds", "10 % or less for 2 and 90 % or more for 1", "about 0.1 of the first", "and hardly any of the second"} {
		if !strings.Contains(c.Text, want) {
			t.Errorf("%q is not in %q", want, c.Text)
		}
	}
	if c.Stands != analysis.Open {
		t.Error(c.Stands)
	}
}
