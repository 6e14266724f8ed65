package fertility

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// All flocks here are invented.

const today = record.Day(20412) // 2025-11-20

type book struct{ *record.Dataset }

// yard has two males and n hens; M1 and M2 are in pens 1 and 2.
func yard(n int) book {
	d := &record.Dataset{Name: "Home"}
	for i, m := range []string{"M1", "M2"} {
		d.Birds = append(d.Birds, record.Bird{ID: m, Ring: m, Sex: record.Male, Pen: fmt.Sprint(i + 1)})
	}
	for i := range n {
		d.Birds = append(d.Birds, record.Bird{ID: fmt.Sprintf("H%d", i+1), Ring: fmt.Sprintf("H%d", i+1), Sex: record.Female, Pen: fmt.Sprint(i%2 + 1)})
	}
	return book{d}
}

func (b book) set(male, hen, pen string, ago, set, clear int, change ...func(*record.EggSetting)) {
	e := &record.EggSetting{Male: male, Hen: hen, Set: set, Clear: clear, DeadEarly: -1, DeadInShell: -1, HatchedNo: -1, StoredDays: -1}
	for _, f := range change {
		f(e)
	}
	b.Events = append(b.Events, record.Event{Kind: record.Set, Pen: pen, On: record.On(today - record.Day(ago)), Setting: e,
		At: record.Ref{File: "eggs.csv", Row: int32(len(b.Events) + 2), Col: 4}})
}

func (b book) move(bird, pen string, ago int) {
	b.Events = append(b.Events, record.Event{Kind: record.Moved, Bird: bird, Pen: pen, On: record.On(today - record.Day(ago))})
}

func (b book) run(t *testing.T) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), analysis.Context{Today: today}, b.Dataset, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func find(t *testing.T, r *Result, id string) analysis.Claim {
	t.Helper()
	for _, c := range r.Claims() {
		if strings.HasPrefix(c.ID, id) {
			return c
		}
	}
	t.Fatalf("no claim %s", id)
	return analysis.Claim{}
}

func TestTheSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestTheChanceOfSeeingAFallIsSmall(t *testing.T) {
	// Domain notes 4.6, exact enumeration with Fisher's two-sided test at 5 %; computed in R.
	for _, c := range []struct {
		p, q float64
		n    int
		want float64
	}{{0.9, 0.5, 10, 0.30}, {0.9, 0.7, 10, 0.06}, {0.9, 0.7, 24, 0.31}, {0.9, 0.7, 48, 0.61}, {0.85, 0.7, 96, 0.66}, {0.9, 0.5, 24, 0.83}} {
		if got := Power(c.p, c.q, c.n); math.Abs(got-c.want) > 0.006 {
			t.Errorf("%v to %v with %d eggs: %.3f, want %.2f", c.p, c.q, c.n, got, c.want)
		}
	}
}

func TestAComparisonNeedsTwentyEggs(t *testing.T) {
	for n, said := range map[int]bool{MinEggs - 1: false, MinEggs: true} {
		b := yard(4)
		b.set("M1", "", "1", 400, 20, 1)
		b.set("M1", "", "1", 30, n, n-3)
		c := find(t, b.run(t), "fertility.year/2025")
		if (c.Refusal == nil) != said || said != (c.Stands == analysis.Against) || !strings.Contains(c.Text, "19 of 20 eggs fertile") {
			t.Errorf("%d eggs: %s %+v %q", n, c.Stands, c.Refusal, c.Text)
		}
	}
	b := yard(4)
	b.set("M1", "", "1", 400, 24, 4)
	b.set("M1", "", "1", 30, 24, 6)
	if c := find(t, b.run(t), "fertility.year/2025"); c.Stands != analysis.Open || !strings.Contains(c.Text, "no difference that so many eggs can show") {
		t.Errorf("%s %q", c.Stands, c.Text)
	}
}

func TestStorageAndCandlingMustBeAlike(t *testing.T) {
	for _, c := range []struct {
		days int
		want bool
	}{{StoredLong, true}, {StoredLong + 1, false}} {
		b := yard(4)
		b.set("M1", "", "1", 400, 40, 1, func(e *record.EggSetting) { e.StoredDays = 3 })
		b.set("M1", "", "1", 30, 40, 30, func(e *record.EggSetting) { e.StoredDays = c.days })
		if x := find(t, b.run(t), "fertility.year"); (x.Refusal == nil) != c.want {
			t.Errorf("stored %d days: %q", c.days, x.Text)
		}
	}
	b := yard(4)
	b.set("M1", "", "1", 400, 40, 1, func(e *record.EggSetting) { e.DeadEarly = 2 })
	b.set("M1", "", "1", 30, 40, 30)
	if x := find(t, b.run(t), "fertility.year"); x.Refusal == nil || !strings.Contains(x.Text, "died early") {
		t.Errorf("%q", x.Text)
	}
}

func TestAMaleWithOneHenIsNotBlamed(t *testing.T) {
	for hens, blamed := range map[int]bool{1: false, 2: true} {
		b := yard(6)
		for i := range 4 {
			b.set("M1", fmt.Sprintf("H%d", 1+i%hens), "1", 30+i, 12, 10)
			b.set("M2", fmt.Sprintf("H%d", 3+i%2), "2", 30+i, 12, 1)
		}
		c := find(t, b.run(t), "fertility.male/M1")
		if (c.Stands == analysis.Against) != blamed || (c.Refusal == nil) != blamed {
			t.Errorf("%d hens: %s %q", hens, c.Stands, c.Text)
		}
	}
}

func TestEggsSoonAfterAChangeOfMalesHaveNoSureFather(t *testing.T) {
	for days, sure := range map[int]bool{PurgeDays - 1: false, PurgeDays: true} {
		b := yard(4)
		b.move("M2", "9", 100+days) // out of pen 2 ...
		b.move("M1", "2", 100+days) // ... and the other in, the same day
		b.set("M1", "", "2", 100, 24, 4)
		r := b.run(t)
		if got := len(r.Settings[0].Doubts) == 0; got != sure {
			t.Errorf("%d days after: doubts %v", days, r.Settings[0].Doubts)
		}
		if !sure {
			if c := find(t, r, "fertility.doubted/M1"); c.Refusal == nil || !strings.Contains(c.Text, "males changed less than 21 days before") {
				t.Errorf("%+v", c)
			}
		}
	}
	// The male was there all along: no doubt.
	b := yard(4)
	b.set("", "", "1", 100, 24, 4)
	if s := b.run(t).Settings[0]; len(s.Doubts) > 0 || !s.Known || s.Males[0] != "M1" || len(s.Hens) != 2 {
		t.Errorf("%+v", s)
	}
}

func TestTheModelNeedsFiveHensAHundredEggsAndCrossing(t *testing.T) {
	build := func(hens, eggs int, cross bool) *Result {
		b := yard(8)
		for i := range hens {
			for j, m := range []string{"M1", "M2"} {
				if !cross && i%2 != j {
					m = []string{"M1", "M2"}[i%2]
				}
				clear := eggs / 6
				if m == "M2" {
					clear = eggs/3 + i%2
				}
				b.set(m, fmt.Sprintf("H%d", i+1), "", 200+30*i+j, eggs, clear, func(e *record.EggSetting) { e.StoredDays = 2 + (i+j)%5 })
			}
		}
		return b.run(t)
	}
	for _, c := range []struct {
		hens, eggs int
		cross      bool
		want       bool
	}{{ModelHens, 10, true, true}, {ModelHens - 1, 20, true, false}, {ModelHens, 9, true, false}, {ModelHens, 20, false, false}} {
		if r := build(c.hens, c.eggs, c.cross); (r.Model != nil) != c.want {
			t.Errorf("%+v: model %v", c, r.Model)
		}
	}
	c := find(t, build(8, 24, true), "fertility.model/M2")
	if !(c.Estimate.High < 1) || !strings.Contains(c.Text, "from M2 are") {
		t.Errorf("%q %+v", c.Text, c.Estimate)
	}
}

func TestAHatchJoinsItsSetting(t *testing.T) {
	b := yard(2)
	b.set("M1", "", "1", 60, 12, 2)
	b.Events = append(b.Events, record.Event{Kind: record.Hatch, Pen: "1", On: record.On(today - 39), Setting: &record.EggSetting{Set: -1, Clear: -1, HatchedNo: 8},
		At: record.Ref{File: "eggs.csv", Row: 9, Col: 2}},
		record.Event{Kind: record.Hatch, Pen: "1", On: record.On(today - 5), Setting: &record.EggSetting{Set: -1, Clear: -1, HatchedNo: 3}})
	r := b.run(t)
	if r.Settings[0].Hatched != 8 || len(r.Settings[0].At) != 2 || r.Left != 1 {
		t.Errorf("%+v, left %d", r.Settings[0], r.Left)
	}
	if c := find(t, r, "fertility.flock"); !strings.Contains(c.Text, "10 of 12 eggs were fertile") || !strings.Contains(c.Text, "8 hatched") {
		t.Errorf("%q", c.Text)
	}
}

func TestLiceStandBesideFertilityWithoutCause(t *testing.T) {
	build := func(n int) book {
		b := yard(2)
		for i := range 2 * n {
			ago := 20 + 40*i
			b.set("M1", "", "1", ago, 12, 3)
			b.Observations = append(b.Observations, record.Observation{Bird: "M1", Trait: record.Parasite, Parasite: record.Lice, Form: record.Count,
				Value: float64(i % 2 * 9), On: record.On(today - record.Day(ago+3)), At: record.Ref{File: "l.csv", Row: int32(i + 2), Col: 2}})
		}
		return b
	}
	c := find(t, build(MinLiceSettings).run(t), "fertility.lice")
	if c.Stands != analysis.Open || !strings.Contains(c.Text, "says nothing of a cause") || len(c.RestsOn) != 4*MinLiceSettings {
		t.Errorf("%+v", c)
	}
	for _, c := range build(MinLiceSettings - 1).run(t).Claims() {
		if c.ID == "fertility.lice" {
			t.Errorf("%q", c.Text)
		}
	}
}

func TestBadInputGivesASentence(t *testing.T) {
	if c := find(t, yard(1).run(t), "fertility.none"); c.Refusal == nil {
		t.Errorf("%+v", c)
	}
	b := yard(2)
	b.set("M1", "", "1", 30, 0, 0)
	b.set("M1", "", "1", 40, 5, 9)        // more clear than set
	b.set("nobody + x", "", "", 50, 5, 1) // parents that no bird is known by
	b.set("M1", "H1", "1", -9, 5, 1)      // in the future
	r := b.run(t)
	if r.Left != 1 || len(r.Settings) != 3 {
		t.Errorf("%d settings, %d left out", len(r.Settings), r.Left)
	}
	for _, c := range r.Claims() {
		if strings.Contains(c.Text, "NaN") || strings.Contains(c.Text, "%!") {
			t.Errorf("%q", c.Text)
		}
	}
}
