package slip

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// flock builds invented weighings: one text a weighing, "BIRD DATE GRAMS [TYPED]", a row each.
func flock(t testing.TB, rows ...string) *record.Dataset {
	t.Helper()
	ds := &record.Dataset{Name: "invented"}
	seen := map[string]bool{}
	for i, row := range rows {
		f := strings.Fields(row)
		day, err := record.ParseDay(f[1])
		if err != nil {
			t.Fatal(err)
		}
		o := record.Observation{Bird: f[0], On: record.On(day), Trait: record.Weight, Text: f[len(f)-1], At: record.Ref{File: "w.xlsx", Sheet: "S", Row: int32(i + 2), Col: 4}}
		if _, err := fmt.Sscan(f[2], &o.Value); err != nil {
			t.Fatal(err)
		}
		if !seen[f[0]] {
			seen[f[0]] = true
			ds.Birds = append(ds.Birds, record.Bird{ID: f[0], Ring: f[0]})
		}
		ds.Observations = append(ds.Observations, o)
	}
	return ds
}

func find(t testing.TB, ds *record.Dataset) *Result {
	t.Helper()
	r, err := Find(context.Background(), analysis.Context{}, ds, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func at(r *Result, row int32) *Finding {
	for i, f := range r.Findings {
		if f.At.Row == row || slices.ContainsFunc(f.More, func(m record.Ref) bool { return m.Row == row }) {
			return &r.Findings[i]
		}
	}
	return nil
}

func offers(f *Finding, value string) bool {
	return f != nil && slices.ContainsFunc(f.Readings, func(r record.Reading) bool { return r.Value == value })
}

// steady writes n fortnightly weighings of a grown bird about a weight, from 2024-01-01, by a fixed scatter of a few percent.
func steady(bird string, n int, grams float64) []string {
	scatter := []float64{0.01, -0.02, 0.03, -0.01, 0, 0.02, -0.03, 0.015, -0.005, 0.025}
	var out []string
	for i := range n {
		d, _ := record.DayOf(2024, 1, 1)
		out = append(out, fmt.Sprintf("%s %s %.0f", bird, d+record.Day(14*i), grams*(1+scatter[(i+len(bird)+int(grams))%len(scatter)])))
	}
	return out
}

// Two birds of the project's invented workbook s06 (a long table in which one row in four carries a slip), with the
// answers of its key: 1805 was 1085, and 241 lost its last digit.
func TestSlipsOfTheInventedWorkbook(t *testing.T) {
	ds := flock(t,
		"Quince 2024-05-04 965", "Mabel 2024-05-04 550", "Quince 2024-05-18 1290", "Mabel 2024-05-18 765", "Quince 2024-06-01 1570", "Mabel 2024-06-01 970",
		"Mabel 2024-06-13 1805", "Quince 2024-06-15 1875", "Mabel 2024-06-15 1095", "Quince 2024-06-29 2070", "Mabel 2024-06-29 1230", "Quince 2024-07-13 2235",
		"Mabel 2024-07-13 1360", "Quince 2024-07-27 2375", "Mabel 2024-07-27 1455", "Quince 2024-07-29 241", "Quince 2024-08-10 2505", "Mabel 2024-08-10 1525",
		"Quince 2024-08-24 2530", "Mabel 2024-08-24 1545", "Quince 2024-09-07 2655", "Mabel 2024-09-07 1605", "Quince 2024-09-21 2665", "Mabel 2024-09-21 1680",
		"Quince 2024-10-05 2760", "Mabel 2024-10-05 1700", "Quince 2024-10-19 2715", "Mabel 2024-10-19 1685", "Quince 2024-11-02 2795", "Mabel 2024-11-02 1705")
	hatch, _ := record.ParseDay("2024-03-02")
	for i := range ds.Birds {
		ds.Birds[i].Hatched = record.On(hatch)
	}
	r := find(t, ds)
	if len(r.Findings) != 2 {
		t.Fatalf("%d findings, want 2: %+v", len(r.Findings), r.Findings)
	}
	if f := at(r, 8); f == nil || f.Class != DigitSwap || f.Readings[0].Value != "1085 g" {
		t.Errorf("1805: %+v", f)
	}
	if f := at(r, 17); f == nil || f.Class != MissingDigit || !strings.Contains(f.Message, "241_") {
		t.Errorf("241: %+v", f)
	} else if !strings.Contains(f.Effect, "With this weight the estimate of Quince") || !strings.Contains(f.Effect, "without about") {
		t.Errorf("effect: %q", f.Effect)
	}
}

// Ratios of units. Source: international avoirdupois pound 453.59237 g of 16 ounces, agreement of 1959; the ratios are
// those that domain notes 6.6 list: 1000, 28.35, 35.27, 453.6, 2.2046, 16 and their inverses.
func TestUnitRatios(t *testing.T) {
	for _, ratio := range []float64{1000, 28.35, 35.27, 453.6, 2.2046, 16, 0.0353, 0.0022046, 0.4536, 1 / 16.0} {
		for _, off := range []float64{0.88, 1, 1.13} {
			if _, ok := nearUnit(math.Log(ratio * off)); !ok {
				t.Errorf("%v times %v is no unit ratio", ratio, off)
			}
		}
	}
	for _, none := range []float64{1, 1.3, 1.8, 3, 8, 100, 250} {
		if f, ok := nearUnit(math.Log(none)); ok {
			t.Errorf("%v is taken for the unit ratio %v", none, f)
		}
	}
}

func TestAUnitSlipIsAskedWithItsReading(t *testing.T) {
	for typed, want := range map[string]string{"24.5": "694.6 g", "1.55": "703.1 g", "0.71": "710 g"} {
		rows := steady("B1", 10, 700)
		f := strings.Fields(rows[4])
		rows[4] = f[0] + " " + f[1] + " " + typed
		if got := at(find(t, flock(t, rows...)), 6); got == nil || got.Class != UnitSlip || got.Readings[0].Value != want {
			t.Errorf("%s: %+v, want %s", typed, got, want)
		}
	}
}

// Two weighings of a bird still show the coarsest factors, 1000 and 453.6, once its flock says what birds weigh.
func TestSparseBirds(t *testing.T) {
	for typed, want := range map[string]bool{"0.68": true, "1.5": true, "640": false, "905": false} {
		var rows []string
		for _, b := range []string{"A", "C", "D", "E", "F"} {
			rows = append(rows, steady(b, 4, 690)...)
		}
		rows = append(rows, "Z 2024-01-01 702", "Z 2024-03-01 "+typed)
		f := at(find(t, flock(t, rows...)), int32(len(rows)+1))
		if (f != nil) != want || want && f.Class != UnitSlip {
			t.Errorf("%s: %+v, want asked %v", typed, f, want)
		}
	}
}

// Limits crossed both ways.
func TestLimits(t *testing.T) {
	day := func(i int) record.Day { d, _ := record.DayOf(2024, 1, 1); return d + record.Day(14*i) }
	with := func(rows []string, i int, grams float64) []string {
		rows = slices.Clone(rows)
		f := strings.Fields(rows[i])
		rows[i] = fmt.Sprintf("%s %s %.0f", f[0], f[1], grams)
		return rows
	}
	offset := func(birds int, share float64) []string {
		var rows []string
		for i := range 10 {
			for b := range birds {
				w := strings.Fields(steady(fmt.Sprint("B", b), 10, 600+53*float64(b))[i])
				var g float64
				fmt.Sscan(w[2], &g)
				if i == 5 {
					g *= 1 + share
				}
				rows = append(rows, fmt.Sprintf("%s %s %.0f", w[0], w[1], g))
			}
		}
		return rows
	}
	reuse := func(gap int, second, third float64) []string {
		rows := steady("B1", 8, 900)
		from := day(7) + record.Day(gap)
		for i, g := range []float64{second, third, 1.2 * third, 1.4 * third} {
			rows = append(rows, fmt.Sprintf("B1 %s %.0f", from+record.Day(14*i), g))
		}
		return rows
	}
	copies := func(n int) []string {
		rows := steady("B1", 20, 2000) // read to 20 g, scattering by 40 g and more
		for i := range n {
			rows = with(rows, 5+i, 2011)
		}
		return rows
	}
	dates := func(n int, broken string) []string {
		rows := steady("B1", n, 900)
		f := strings.Fields(rows[n-2])
		rows[n-2] = f[0] + " " + broken + " " + f[2]
		return rows
	}
	for name, c := range map[string]struct {
		rows  []string
		class Class
		asked bool
	}{
		"a swap of a third":                       {with(steady("B1", 12, 2450), 5, 4250), DigitSwap, true},
		"a swap within weighing error":            {with(steady("B1", 12, 2450), 5, 2540), DigitSwap, false},
		"a fall that no slip explains":            {with(steady("B1", 12, 1000), 5, 555), Unexplained, true},
		"a fall of a quarter, as in moult":        {with(steady("B1", 12, 1000), 5, 777), Unexplained, false},
		"one digit too many":                      {with(steady("B1", 12, 700), 5, 7010), ExtraDigit, true},
		"a day of 4 birds off by 20 %":            {offset(4, 0.2), SessionOffset, true},
		"a day of 3 birds off by 20 %":            {offset(3, 0.2), SessionOffset, false},
		"a day of 12 birds off by 12 %":           {offset(12, 0.12), SessionOffset, true},
		"a day of 12 birds off by 3 %":            {offset(12, 0.03), SessionOffset, false},
		"a chick's weight after 60 days":          {reuse(60, 300, 390), RingReuse, true},
		"a chick's weight after 59 days":          {reuse(59, 300, 390), RingReuse, false},
		"a thin bird after a long gap":            {reuse(100, 600, 640), RingReuse, false},
		"4 weights alike at a fine scale":         {copies(4), CopiedForward, true},
		"2 weights alike":                         {copies(2), CopiedForward, false},
		"last year's date among 6":                {dates(6, "2023-02-26"), DateOrder, true},
		"last year's date among 4":                {dates(4, "2023-01-29"), DateOrder, false},
		"day and month exchanged, order repaired": {dates(10, "2024-08-04"), DateOrder, true},
		"a date that no slip repairs":             {dates(10, "2024-10-27"), DateOrder, false},
	} {
		r := find(t, flock(t, c.rows...))
		asked := slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Class == c.class })
		if asked != c.asked {
			t.Errorf("%s: asked %v, want %v: %+v", name, asked, c.asked, r.Findings)
		}
	}
}

// In a sheet without order the bird's growth tells that a date is wrong.
func TestADateThatTheGrowthCurveDoubts(t *testing.T) {
	rows := []string{"B 2024-09-21 1680", "B 2024-05-18 765", "B 2024-07-27 1455", "B 2024-06-01 970", "B 2024-10-05 1700", "B 2024-06-15 1095", "B 2024-05-04 550",
		"B 2024-08-24 1545", "B 2024-06-29 1230", "B 2024-11-08 1525", "B 2024-07-13 1360"}
	ds := flock(t, rows...)
	if r := find(t, ds); len(r.Findings) != 0 {
		t.Errorf("asked about a sound record: %+v", r.Findings)
	}
	day, _ := record.ParseDay("2024-10-05") // written 5/10 and read 10/5: in May the bird would weigh 600 g
	for i := range ds.Observations {
		if o := &ds.Observations[i]; o.On.First == day {
			swapped, _ := record.DayOf(2024, 5, 10)
			o.On = record.On(swapped)
		}
	}
	f := at(find(t, ds), 6)
	if !offers(f, "2024-10-05") {
		t.Errorf("%+v does not offer 2024-10-05", f)
	}
}

func TestImpossibleDates(t *testing.T) {
	ds := flock(t, steady("B1", 8, 700)...)
	hatch, _ := record.ParseDay("2024-01-10")
	ds.Birds[0].Hatched = record.On(hatch)
	today, _ := record.ParseDay("2024-04-01")
	r, err := Find(context.Background(), analysis.Context{Today: today}, ds, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if f := at(r, 2); f == nil || f.Class != DateHatch || offers(f, "2023-01-01") {
		t.Errorf("before hatch: %+v", f)
	}
	if f := at(r, 9); f == nil || f.Class != DateFuture || offers(f, "2023-04-08") {
		t.Errorf("after today: %+v", f)
	}
	if f := at(r, 3); f != nil {
		t.Errorf("a date that may be is asked about: %+v", f)
	}
}

// A day's weights in ounces among grams are one question.
func TestADayInAnotherUnitIsOneQuestion(t *testing.T) {
	var rows []string
	var days []int32
	for i := range 8 {
		for b := range 6 {
			f := strings.Fields(steady(fmt.Sprint("B", b), 8, 700+40*float64(b))[i])
			if i == 4 {
				var g float64
				fmt.Sscan(f[2], &g)
				f[2] = fmt.Sprintf("%.1f", g/gramsPerOunce)
				days = append(days, int32(len(rows)+2))
			}
			rows = append(rows, strings.Join(f, " "))
		}
	}
	r := find(t, flock(t, rows...))
	if len(r.Findings) != 1 || r.Findings[0].Class != UnitSlip || r.Findings[0].Readings[0].Value != "oz" || len(r.Findings[0].More) != len(days)-1 {
		t.Errorf("%+v", r.Findings)
	}
}

func TestAnswersEndQuestions(t *testing.T) {
	for name, rows := range map[string][]string{
		"swap":     append(steady("B1", 9, 2450), "B1 2024-05-06 4250", "B1 2024-05-20 2440"),
		"date":     append(steady("B1", 9, 900), "B1 2023-05-06 905", "B1 2024-05-20 890"),
		"ring":     append(steady("B1", 9, 900), "B1 2024-08-20 200", "B1 2024-09-03 330", "B1 2024-09-17 420"),
		"repeated": append(steady("B1", 9, 2000), "B1 2024-05-06 2011", "B1 2024-05-20 2011", "B1 2024-06-03 2011", "B1 2024-06-17 2011"),
		"unit":     append(steady("B1", 9, 900), "B1 2024-05-06 31.7", "B1 2024-05-20 31.6", "B1 2024-06-03 32.1", "B1 2024-06-17 31.9"),
	} {
		ds := flock(t, rows...)
		first := find(t, ds)
		qs := first.Questions()
		if len(qs) != 1 {
			t.Errorf("%s: %d questions, want 1: %+v", name, len(qs), qs)
			continue
		}
		q := qs[0]
		if want := q.Class + " " + q.At.Key() + " " + q.Raw; q.Key != want {
			t.Errorf("%s: key %q, want %q", name, q.Key, want)
		}
		if last := q.Readings[len(q.Readings)-1]; last.Value != AsItIs {
			t.Errorf("%s: the last reading is %+v", name, last)
		}
		settled := func(key string) bool { return key == q.Key }
		again, err := Find(context.Background(), analysis.Context{}, ds, Options{}, settled)
		if err != nil {
			t.Fatal(err)
		}
		if len(again.Findings) != 0 {
			t.Errorf("%s: asked again after the answer: %+v", name, again.Findings)
		}
		ds.Questions = []record.Question{{Class: "unit_unknown", At: q.At}}
		if asked := find(t, ds); len(asked.Findings) != 0 {
			t.Errorf("%s: a cell is asked about twice: %+v", name, asked.Findings)
		}
	}
	// An edited cell is asked anew.
	ds := flock(t, append(steady("B1", 9, 2450), "B1 2024-05-06 4250", "B1 2024-05-20 2440")...)
	old := find(t, ds).Findings[0].Key()
	ds.Observations[9].Value, ds.Observations[9].Text = 4520, "4520"
	if r, _ := Find(context.Background(), analysis.Context{}, ds, Options{}, func(k string) bool { return k == old }); len(r.Findings) != 1 {
		t.Errorf("an edited cell: %+v", r.Findings)
	}
}

// The effect on the growth curve's mature weight is told where there is a curve. The bird is drawn from a Gompertz curve of
// 2000 g mature weight; one weighing of about 1980 g is written 1247.
func TestEffectOnTheMatureWeight(t *testing.T) {
	var rows []string
	hatch, _ := record.ParseDay("2024-03-01")
	for i := range 22 {
		age := 14 + 14*float64(i)
		g := 2000 * math.Exp(-3.7*math.Exp(-0.024*age)) * (1 + 0.01*float64(i*7%5-2))
		if i == 16 {
			g = 1247
		}
		rows = append(rows, fmt.Sprintf("B1 %s %.0f", hatch+record.Day(age), g))
	}
	ds := flock(t, rows...)
	ds.Birds[0].Hatched = record.On(hatch)
	f := at(find(t, ds), 18)
	if f == nil || !strings.Contains(f.Effect, "The mature weight of its growth curve changes from") {
		t.Errorf("%+v", f)
	}
}

// Steps to which weights are rounded, crossed both ways: half of them, beyond chance. Weights are invented.
func TestScales(t *testing.T) {
	for _, c := range []struct {
		rounded int // of 100 weights, to the step
		step    float64
		want    float64
	}{{100, 5, 5}, {100, 10, 10}, {100, 50, 50}, {70, 5, 5}, {45, 5, 1}, {100, gramsPerOunce / 2, gramsPerOunce / 2}, {100, 1, 1}} {
		var rows []string
		for i := range 100 {
			g := 600 + 7.3*float64(i*37%100)
			if g = math.Round(g); i < c.rounded {
				g = math.Round(g/c.step) * c.step
			} else if math.Mod(g, 5) == 0 {
				g++
			}
			d, _ := record.DayOf(2024, 1, 1)
			rows = append(rows, fmt.Sprintf("B%d %s %v", i%10, d+record.Day(i/10), g))
		}
		if r := find(t, flock(t, rows...)); math.Abs(r.Scales[0].Step-c.want) > 1e-9 {
			t.Errorf("%d %% rounded to %v: step %v, want %v", c.rounded, c.step, r.Scales[0].Step, c.want)
		}
	}
}

func TestNothingToJudge(t *testing.T) {
	empty := find(t, &record.Dataset{})
	if c := empty.Claims(); len(c) != 1 || c[0].Refusal == nil {
		t.Errorf("an empty flock: %+v", c)
	}
	one := flock(t, "B1 2024-01-01 700")
	if r := find(t, one); len(r.Findings) != 0 || r.Weighings != 1 || !reflect.DeepEqual(r.Sparse, []string{"B1"}) {
		t.Errorf("one weighing: %+v", r)
	}
	if _, err := Find(context.Background(), analysis.Context{}, one, Options{Ring: "nobody"}, nil); err == nil {
		t.Error("a bird that nobody knows is found")
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Find(stopped, analysis.Context{}, one, Options{}, nil); err == nil {
		t.Error("a stopped search ends without an error")
	}
	odd := flock(t, append(steady("B1", 12, 700), steady("B1", 12, 700)...)...) // all dates twice
	for i, v := range []float64{math.NaN(), math.Inf(1), 0, -3, 1e-300, 1e300} {
		odd.Observations[i].Value = v
	}
	odd.Observations[7].On = record.Date{}
	odd.Observations[8].Bird = ""
	odd.Observations[9].Text = ""
	find(t, odd)
	for i := range odd.Observations {
		odd.Observations[i].On = odd.Observations[3].On
	}
	find(t, odd)
}

func FuzzFind(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12})
	f.Add([]byte(strings.Repeat("\x00\xff\x10", 40)))
	f.Fuzz(func(t *testing.T, data []byte) {
		ds := &record.Dataset{Birds: []record.Bird{{ID: "0", Hatched: record.On(19000)}, {ID: "1"}}}
		for i := 0; i+4 <= len(data) && i < 400; i += 4 {
			v := math.Exp(float64(int8(data[i+1])) / 8)
			if data[i+1] == 255 {
				v = math.NaN()
			}
			o := record.Observation{Bird: fmt.Sprint(data[i] % 3), Trait: record.Weight, Value: v, Text: fmt.Sprint(v),
				On: record.On(19000 + 8*record.Day(data[i+2])), At: record.Ref{File: "f", Row: int32(i), Col: int32(data[i+3] % 4)}}
			if data[i+3] > 200 {
				o.On, o.Age = record.Date{}, record.AgeDays(int(data[i+2]))
			}
			ds.Observations = append(ds.Observations, o)
		}
		r, err := Find(context.Background(), analysis.Context{Today: 20000}, ds, Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		keys := map[string]bool{}
		for _, q := range r.Questions() {
			if keys[q.Key] || len(q.Readings) == 0 || strings.Contains(q.Message, "NaN") {
				t.Errorf("%+v", q)
			}
			keys[q.Key] = true
		}
	})
}

func TestTheResultIsWholeAndTheSameEachTime(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
	ds := flock(t, append(append(steady("B1", 9, 2450), "B1 2024-05-06 4250"), steady("B2", 25, 700)...)...)
	var first []byte
	for range 5 {
		r, err := Spec().Run(context.Background(), analysis.Context{}, ds, map[string]any{"ring": "B1"})
		if err != nil {
			t.Fatal(err)
		}
		ids := map[string]bool{}
		for _, c := range r.Claims() {
			if ids[c.ID] || c.Stands != analysis.Open || c.Source == "" || c.Text == "" || len(c.RestsOn) == 0 {
				t.Errorf("claim %+v", c)
			}
			ids[c.ID] = true
		}
		for _, table := range r.Tables() {
			for _, row := range table.Rows {
				if len(row) != len(table.Columns) {
					t.Errorf("table %s: %d cells in %d columns", table.Name, len(row), len(table.Columns))
				}
			}
		}
		out, err := json.Marshal([]any{r.Claims(), r.Tables(), r.(*Result).Questions()})
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = out
		} else if string(first) != string(out) {
			t.Fatal("two runs differ")
		}
	}
}
