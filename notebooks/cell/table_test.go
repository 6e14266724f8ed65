package cell

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

func TestTables(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"len(w.where(sex = \"F\"))":                                                                         "8",
		"len(w.where(weight = (500, None)))":                                                                "10",
		"len(w.where(weight = (500, 530)))":                                                                 "3",
		"len(w.where(bird = [\"R12\", \"007\"], sex = \"M\"))":                                              "4",
		"len(w.where(date = (date(\"2025-03-08\"), \"2025-03-15\")))":                                       "8",
		"len(w.where(age_days = None))":                                                                     "1",
		"len(w.where(bird = flock.bird(\"Žofie\")))":                                                        "4",
		"len(w.where(lambda r: r.weight > 500))":                                                            "9",
		"len(w.where(lambda r: r.age_days == None))":                                                        "1",
		"len(w.where(lambda r: r.weight > 500, sex = \"F\"))":                                               "2",
		"len(w.where(w.weight.gt(500)))":                                                                    "9",
		"len(w.where(w.weight.gt(500) & w.sex.eq(\"F\")))":                                                  "2",
		"len(w.where(w.weight.lt(420) | w.bird.eq(\"R15\")))":                                               "5",
		"len(w[w.weight.gt(500)])":                                                                          "9",
		"w.sort(\"weight\", down = True)[0].weight":                                                         "640",
		"w.sort(\"age_days\")[-1].bird":                                                                     `"R15"`,
		"w.sort(\"sex\", \"weight\")[0].bird":                                                               `"R12"`,
		"w.select(\"bird\", \"weight\").columns()":                                                          `["bird", "weight"]`,
		"\"note\" in w.drop(\"note\").columns()":                                                            "False",
		"w.rename(grams = \"weight\").grams[0]":                                                             "400",
		"w.add(kg = lambda r: r.weight / 1000)[1].kg":                                                       "0.43",
		"w.add(kg = w.weight / 1000).kg[1]":                                                                 "0.43",
		"w.add(season = \"2025\", n = range(16))[3].n":                                                      "3",
		"list(w.group(\"bird\", weight = \"mean\").weight_mean)":                                            "[445, 495, 545, 595]",
		"list(w.group(\"sex\").n)":                                                                          "[8, 8]",
		"w.group(\"sex\", weight = [\"min\", \"max\"], date = \"max\")[1].date_max":                         `"2025-03-22"`,
		"list(w.group(\"sex\", weight = lambda xs: max(xs) - min(xs)).weight)":                              "[140, 140]",
		"[(k, len(rows)) for k, rows in w.groups(\"sex\")]":                                                 `[("F", 8), ("M", 8)]`,
		"[k for k, rows in w.groups(\"sex\", \"bird\")][1]":                                                 `("F", "R13")`,
		"w.group(\"bird\").join(flock.birds.select(\"bird\", \"label\"), \"bird\")[2].label":                `"007 Ærø"`,
		"len(w.join(flock.birds.where(bird = \"R12\").select(\"bird\", \"label\"), \"bird\", keep = True))": "16",
		"len(w[2:5])":        "3",
		"w[::-1][0].weight":  "640",
		"w.head(2).cells()":  `["w.xlsx!2025!B2", "w.xlsx!2025!B3"]`,
		"w.tail(1)[0].cells": `["w.xlsx!2025!E5"]`,
		"w[0][\"weight\"]":   "400",
		"w[\"weight\"][0]":   "400",
		"w.weight[2:4]":      "[460, 490]",
		"\"weight\" in w":    "True",
		"w.weight.unit":      `"g"`,
		"w.sex.unique()":     `["F", "M"]`,
		"mean(w.age_days) == mean([x for x in w.age_days if x != None])": "True",
		"count(w.age_days)":                                        "15",
		"list((w.weight - w.weight)[:2])":                          "[0, 0]",
		"list((1000 - w.weight)[:2])":                              "[600, 570]",
		"list((w.weight % 100)[:2])":                               "[0, 30]",
		"list((2 * w.weight)[:2])":                                 "[800, 860]",
		"[list((w.age_days + 1))[-1]]":                             "[None]",
		"[r.bird for r in w if r.weight > 600]":                    `["R15", "R15"]`,
		"w.select(\"bird\", \"weight\").head(1).csv()":             `"bird,weight\nR12,400\n"`,
		"[frame({\"egg weight\": [50, None]})[\"egg weight\"][1]]": "[None]",
		"type(w) + type(w.weight) + type(w[0])":                    `"tablecolumnrow"`,
		"bool(w.where(sex = \"x\"))":                               "False",
		"flock.bird(\"007\").weights[0].weight":                    "500",
		"flock.bird(\"R12\").label":                                `"R12 Žofie"`,
		"flock.name + \" \" + str(flock.today)":                    `"Low Barn 2025-06-01"`,
		"flock.settings.flock.name":                                `"Low Barn"`,
		"flock":                                                    "flock Low Barn: 4 birds, 16 observations, 0 events, 0 questions open, 0 cells refused",
		"min(w.age_days)":                                          "60",
		"max([None, 3, 2])":                                        "3",
		"[min([])]":                                                "[None]",
		"max(3, 9)":                                                "9",
	} {
		if r := cells(t, e, "w = flock.weights", in); r.failure != nil || r.text() != "result: "+want {
			t.Errorf("%s\n got %s (%v)\nwant %s", in, r.text(), r.failure, want)
		}
	}
}

func TestSettingAColumnChangesTheTableOfTheCellOnly(t *testing.T) {
	r := cells(t, engine(t, Limits{}), "w = flock.weights\nw[\"kg\"] = w.weight / 1000\nv = flock.weights", "(w.kg[0], \"kg\" in v)")
	if r.text() != "result: (0.4, False)" {
		t.Errorf("%s %v", r.text(), r.failure)
	}
}

func TestNumbers(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"sum([1, 2, None])": "3", "sum([])": "0", "sum([0.5, 0.25])": "0.75", "mean([1, 2])": "1.5", "[mean([])]": "[None]",
		"median([4, 1, 3, 2])": "2.5", "[sd([5])]": "[None]", "sd([2, 4, 4, 4, 5, 5, 7, 9])": "2.138089935299395", // sqrt(32/7)
		"quantile([1, 2, 3, 4], 0.25)": "1.75", "round(2.567, 1)": "2.6", "round(2.4)": "2", "round(-0.4)": "0", "round(7, 2)": "7",
		"[round(None)]": "[None]", "fixed(2, 1)": `"2.0"`, "fixed(-0.04, 1)": `"0.0"`, "fixed(None)": `"–"`, "fixed(1234.5, 2)": `"1234.50"`,
		"sqrt(16)": "4.0", "pow(2, 10)": "1024", "pow(2, -1)": "0.5", "pow(2.0, 3)": "8.0", "floor(-1.5)": "-2", "ceil(1.2)": "2",
		"log10(1000)": "3.0", "\"%s g\" % fixed(612, 1)": `"612.0 g"`, "\"{} of {}\".format(3, 4)": `"3 of 4"`, "\",\".join([\"a\", \"b\"])": `"a,b"`,
		"share(31, 48).n": "48", "round(share(8, 10, level = 0.95).low, 2)": "0.49", // 8 of 10: 49 to 94 %, Wilson (domain notes, computed)
		"mean_interval([1, 2, 3]).value": "2.0", "count([1, None, \"a\"])": "2", "7 // 2": "3", "7 / 2": "3.5", "0x10 + 1": "17",
		"3 * 4": "12", "20 * 30 * 40.0": "24000.0", "[1, 2] * 3": "[1, 2, 1, 2, 1, 2]", "\"ab\" * 20": `"` + strings.Repeat("ab", 20) + `"`, "20 * [0] == [0] * 20": "True",
		"-17 % 5": "3", "\"%d%%\" % 5": `"5%"`, "\"%s-%s\" % (1, 2)": `"1-2"`, "\"%(a)s\" % {\"a\": 1}": `"1"`,
	} {
		if r := cells(t, e, in); r.failure != nil || r.text() != "result: "+want {
			t.Errorf("%s: got %s (%v), want %s", in, r.text(), r.failure, want)
		}
	}
}

func TestDates(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"date(\"2025-03-01\") + 21": "2025-03-22", "21 + date(\"2025-03-01\")": "2025-03-22", "today - weeks(1)": "2025-05-25",
		"date(\"2025-03-01\") - date(\"2024-03-01\")": "365", "date(\"2024-02-29\") < today": "True", "date(today)": "2025-06-01",
		"date(\"2025-01-31\").add_months(1)": "2025-02-28", "today.weekday": `"Sunday"`, "(today.year, today.month, today.day)": "(2025, 6, 1)",
		"today == date(\"2025-06-01\")": "True", "str(today)": `"2025-06-01"`, "{today: 1}[date(\"2025-06-01\")]": "1", "today == \"2025-06-01\"": "False",
		"max([today, date(\"2020-01-01\")])": "2025-06-01", "sorted([today, today - 1])[0]": "2025-05-31", "date(\"2024-12-31\").year_day": "366",
	} {
		if r := cells(t, e, in); r.failure != nil || r.text() != "result: "+want {
			t.Errorf("%s: got %s (%v), want %s", in, r.text(), r.failure, want)
		}
	}
}

func TestBlocks(t *testing.T) {
	e := engine(t, Limits{})
	for in, want := range map[string]string{
		"facts({\"ring\": \"R12\", \"hatched\": None, \"day\": today})":                                       "ring: R12\nhatched: not recorded\nday: 2025-06-01",
		"caution(\"chemicals\", \"Dust\", [\"Follow the label.\", \"Open air, mask, gloves.\"])":              "Dust\n  - Follow the label.\n  - Open air, mask, gloves.",
		"decision_line(flock.bird(\"R12\"))":                                                                  "Decision about R12 Žofie (the keeper's own words): ______\nbecause: ______   date: ______",
		"ticks(\"R12\", [\"seen\"], lines = [\"weight\"])":                                                    "R12:  [ ] seen  weight ______",
		"table(flock.birds.head(1), caption = \"Birds\", columns = {\"bird\": \"the bird\"}, note = \"one\")": "Birds\nthe bird\nR12\none",
		"columns([para(\"a\"), \"b\"], heading(\"c\", 3))":                                                    "a\nb\nc\n-",
		"together(para(\"a\"), [para(\"b\")])":                                                                "a\n\nb",
		"claims(heavy(flock), title = \"Weight\")":                                                            "Weight\n○ open: Records show 9 weighings above 500 g.",
		"claims(heavy(flock).claims)":                                                                         "○ open: Records show 9 weighings above 500 g.",
		"heavy(flock).claims[0]":                                                                              "○ open: Records show 9 weighings above 500 g.",
		"figure(heavy(flock).figures[0])":                                                                     "Growth\nThe weights rise.",
		"markdown(\"*a*\")":                                                                                   "*a*",
	} {
		if r := cells(t, e, in); r.failure != nil || r.text() != "result: "+want {
			t.Errorf("%s\n got %q (%v)\nwant %q", in, r.text(), r.failure, want)
		}
	}
}

func TestALongTableSaysWhatIsLeftOut(t *testing.T) {
	r := cells(t, engine(t, Limits{}), "frame({\"x\": range(120)})")
	if r.failure != nil || !strings.Contains(r.text(), "50 rows of 120; [50:100] shows the next ones") || strings.Contains(r.text(), "\n119") {
		t.Errorf("%s (%v)", r.text(), r.failure)
	}
}

func large(b *testing.B) *Engine {
	b.Helper()
	d := &record.Dataset{}
	for i := range 100_000 {
		d.Observations = append(d.Observations, record.Observation{Bird: fmt.Sprintf("R%d", i%5000), Trait: record.Weight, Value: float64(400 + i%700), Age: record.AgeDays(i % 400)})
	}
	for i := range 5000 {
		d.Birds = append(d.Birds, record.Bird{ID: fmt.Sprintf("R%d", i), Sex: []record.Sex{record.Male, record.Female}[i%2]})
	}
	e, err := New(Options{Flock: d})
	if err != nil {
		b.Fatal(err)
	}
	if f := e.Run(context.Background(), "cell 1", "w = flock.weights", &recorder{}); f != nil {
		b.Fatal(f)
	}
	return e
}

func benchmarkCell(b *testing.B, source string) {
	e := large(b)
	for b.Loop() {
		if f := e.Run(context.Background(), "cell 2", source, &recorder{}); f != nil {
			b.Fatal(f)
		}
	}
}

func BenchmarkKeywordFilter100k(b *testing.B) {
	benchmarkCell(b, "len(w.where(sex = \"F\", age_days = (0, 140)))")
}
func BenchmarkLambdaFilter100k(b *testing.B) {
	benchmarkCell(b, "len(w.where(lambda r: r.sex == \"F\" and r.age_days <= 140))")
}
func BenchmarkLoop1M(b *testing.B) {
	benchmarkCell(b, "def f():\n    n = 0\n    for i in range(1000000):\n        n += i\n    return n\nf()")
}
func BenchmarkMultiply1M(b *testing.B) {
	benchmarkCell(b, "def f():\n    n = 0\n    for i in range(1000000):\n        n = i * i\n    return n\nf()")
}
