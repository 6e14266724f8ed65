package parse

import (
	"math"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"keelmark/ingest/record"
)

// seeds are texts of keepers and of people who wish them ill.
var seeds = []string{"", " ", "850", "5lb3½", "2/4", "1.085", "~850 wet?", "†", "-", "+++", "10-20", ">50", "2nd September 24", "12.01.2024", "w/c 4 June", "4.VI.2024", "13/5/24 7.30am",
	"2024-W23", "winter 23/24", "3-", "3/5", "BCS 2.5", "R-12", "1.23E+11", "Wt. (g)", "lb.oz", "- none seen   + 1-5", "permethrin dust, 1 pinch, for lice", "=cmd|' /C calc'!A0",
	"\u202egnihtyreve\u202c", "１５６０", "1\u00a0575", "\xff\xfe", "½", "1/2", "9999999999999999999999", "-0", "1e309", "NaN", "Inf", "0x1p4", "'24", "31/31/31", "1:2:3", ":am", "T:", "w/c", "kw", "of 5", "(", "e\u0301",
	"-:1.08lb", "-:850", "‑850g", "≤0", "24,11lice"}

func addSeeds(f *testing.F) {
	for _, s := range seeds {
		for stored := range uint8(Error + 1) {
			f.Add(s, stored)
		}
	}
}

func FuzzClean(f *testing.F) {
	for _, s := range seeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		once := Clean(s)
		if twice := Clean(once); twice != once {
			t.Errorf("Clean(%q) is %q, and again %q", s, once, twice)
		}
		folded := Fold(s)
		if again := Fold(folded); again != folded {
			t.Errorf("Fold(%q) is %q, and again %q", s, folded, again)
		}
		shown := Shown(s)
		if !utf8.ValidString(shown) || strings.ContainsFunc(shown, func(r rune) bool { return unicode.IsControl(r) || isDirection(r) }) {
			t.Errorf("Shown(%q) is %q", s, shown)
		}
		if NameKey(s) != NameKey(once) || RingKey(s) != RingKey(once) {
			t.Errorf("keys of %q differ from those of its clean text", s)
		}
		RingKin(s)
	})
}

func FuzzWeight(f *testing.F) {
	addSeeds(f)
	f.Fuzz(func(t *testing.T, s string, stored uint8) {
		c := Cell{Text: s, Stored: Stored(stored % uint8(Error+1))}
		for _, unit := range []string{"", Grams, Kilos, Pounds, Ounces, PoundOz} {
			for _, point := range []Point{PointUnknown, PointDecimal, PointOunces} {
				m, p := Weight(c, WeightIn{Unit: unit, Point: point})
				switch {
				case p.Holds() && !sameMass(m):
					t.Errorf("%q: a value beside the question %s: %+v", s, p.Class, m)
				case !p.Holds() && m.Form == record.Measured && !(m.Grams >= lightest && m.Grams <= heaviest):
					t.Errorf("%q: %v g", s, m.Grams)
				case p != nil && (p.Message == "" || !utf8.ValidString(p.Message)):
					t.Errorf("%q: message %q", s, p.Message)
				}
			}
		}
		ColumnUnit([]Cell{c, c})
		ColumnPounds(Pounds, []Cell{c, c})
		DecimalMark([]Cell{c, c})
	})
}

func sameMass(m Mass) bool {
	return m.Grams == 0 && m.Lo == 0 && m.Hi == 0 && m.Note == "" && m.Unit == ""
}

func FuzzDate(f *testing.F) {
	addSeeds(f)
	f.Fuzz(func(t *testing.T, s string, stored uint8) {
		c := Cell{Text: s, Stored: Stored(stored % uint8(Error+1))}
		first, _ := record.ParseDay("1949-01-01")
		last, _ := record.ParseDay("2101-01-01")
		for _, in := range []DateIn{{}, {Order: DMY, Year: 2024, Hemisphere: "north", Weekday: "Sat"}, {Order: MDY, Hemisphere: "south", Year: 2024}, {Order: YMD, Sys: From1904}} {
			w, p := Date(c, in)
			switch {
			case p.Holds() && w.On.Known():
				t.Errorf("%q: a date beside the question %s: %s", s, p.Class, w.On)
			case !p.Holds() && !(w.On.First > first && w.On.Last < last && w.On.First <= w.On.Last):
				t.Errorf("%q: %s to %s", s, w.On.First, w.On.Last)
			}
		}
		ColumnOrder([]Cell{c, c, c}, []string{"Mon", s})
		if age, p := Age(c, "w"); !p.Holds() {
			if days, ok := age.Days(); !ok || days < 0 || days > 25*366 {
				t.Errorf("%q: %d days", s, days)
			}
		}
		YearIn(s)
	})
}

func FuzzScoreAndFinding(f *testing.F) {
	addSeeds(f)
	f.Fuzz(func(t *testing.T, s string, stored uint8) {
		c := Cell{Text: s, Stored: Stored(stored % uint8(Error+1))}
		for _, in := range []ScoreIn{{}, oneToFive, zeroToThree} {
			g, p := Score(c, in)
			if !p.Holds() && (math.IsNaN(g.Value) || g.Value < in.Scale.Min || in.Scale.Max > 0 && g.Value > in.Scale.Max) {
				t.Errorf("%q: score %v on %q", s, g.Value, in.Scale.Name)
			}
		}
		for _, in := range []FindingIn{{}, {Dash: DashNone, Cross: "yes", YesNo: true}, {Scale: zeroToThree.Scale}} {
			v, p := Finding(c, in)
			if !p.Holds() && (v.Form == record.Measured || !(v.Value >= 0 && v.Value <= 1e6) || v.Form == record.Range && !(v.Lo < v.Hi)) {
				t.Errorf("%q: finding %+v", s, v)
			}
		}
		if v, p := Count(c); !p.Holds() && !(v.Value >= 0 && v.Value <= 1e6) {
			t.Errorf("%q: count %+v", s, v)
		}
	})
}

func FuzzWords(f *testing.F) {
	addSeeds(f)
	f.Fuzz(func(t *testing.T, s string, stored uint8) {
		c := Cell{Text: s, Stored: Stored(stored % uint8(Error+1))}
		for _, m := range Heading(s) {
			if !(m.Confidence > 0 && m.Confidence <= 1) || m.Field == "" {
				t.Errorf("%q: %+v", s, m)
			}
		}
		if b, p := Ring(c); !p.Holds() && b.Key == "" {
			t.Errorf("%q: a ring without a key: %+v", s, b)
		}
		Sex(c)
		Size(s)
		YesNo(c, "")
		Treatment(s)
		TreatmentInRemark(s)
		TreatmentStanding(s)
		if done, plan := TreatmentText(s); plan != "" && TreatmentStanding(done) != Given {
			t.Errorf("%q: a plan %q beside %q, which is no treatment given", s, plan, done)
		}
		FindingInRemark(s)
		NoneSeen(s)
		CameBack(s)
		Scope(s)
		Legend(s)
		DashMeaning(Legend(s))
		if _, ok := Gone(s); ok {
			if _, maybe := MayBeGone(s); maybe {
				t.Errorf("%q is gone and may be gone", s)
			}
		}
		for _, part := range Findings(c, FindingIn{}) {
			if _, p := Finding(part, FindingIn{Parasite: Parasite(part.Text)}); p != nil {
				t.Errorf("%q: part %q does not read: %v", s, part.Text, p)
			}
		}
		Subject(s)
		NoName(s)
		NoBird(s, s)
		Ditto(s)
		HasWeekday(s)
		YearPair(s)
		UnitIn(s)
	})
}

func BenchmarkWeightNumber(b *testing.B) {
	in := WeightIn{Unit: Grams}
	c := Cell{Text: "1370", Stored: Number}
	for b.Loop() {
		Weight(c, in)
	}
}

func BenchmarkWeightText(b *testing.B) {
	in := WeightIn{Unit: Grams}
	c := T("1370")
	for b.Loop() {
		Weight(c, in)
	}
}

func BenchmarkWeightPounds(b *testing.B) {
	c := T("5lb 12")
	for b.Loop() {
		Weight(c, WeightIn{})
	}
}

func BenchmarkDateFigures(b *testing.B) {
	in := DateIn{Order: DMY}
	c := T("19/3/2024")
	for b.Loop() {
		Date(c, in)
	}
}

func BenchmarkFindingWord(b *testing.B) {
	c := T("none")
	for b.Loop() {
		Finding(c, FindingIn{Parasite: record.Lice})
	}
}

func BenchmarkScore(b *testing.B) {
	c := T("2.5")
	for b.Loop() {
		Score(c, oneToFive)
	}
}

func BenchmarkRing(b *testing.B) {
	c := T("WX24-001")
	for b.Loop() {
		Ring(c)
	}
}
