package main

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest"
	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// offersIn are sheets that raise questions of many classes. All are invented.
func offersIn() map[string]string {
	return map[string]string{
		"season.csv":    "date,ring,weight (g)\nSpring 2024,R1,612\nSpring 2024,R2,700\nAutumn 2024,R1,850\n",
		"units.csv":     "ring,sex,date,Wt\nA1,cockerel,13/7/2025,620g\nA1,,10/8/2025,0.81\nA1,,14/9/2025,1 lb 15\nA1,,12/10/2025,980\nA2,pullet,13/7/2025,510\nA2,,14/9/2025,>700\nA2,,15/11/2025,790 wet\nA3,pullet,13/7/2025,?\nA3,,10/8/2025,640 g (crop full)\nA3,,14/9/2025,1.7lb\nA3,,15/11/2025,8O0\n",
		"dates.csv":     "ring,breed,date,weight (g)\nR1,Sussex,3/4/25,612\nR2,Sussex,3/4/25,700\nR1,,5/4/25,640\nR2,,5/4/25,720\n",
		"years.csv":     "ring,breed,date,weight (g)\nR1,Sussex,3 Apr,612\nR2,Sussex,3 Apr,700\nR1,,May 2025,640\nR2,,,720\n",
		"ages.csv":      "ring,breed,age,weight (g)\nR1,Sussex,8,612\nR2,Sussex,8,700\nR1,,12,840\n",
		"scores.csv":    "ring,breed,date,cond,lice\nR1,Sussex,2025-04-03,3,-\nR2,Sussex,2025-04-03,2,nits\nR1,,2025-04-13,2.5,OK\nR2,,2025-04-13,yes,x\n",
		"one.csv":       "date,weight (g)\n2025-05-01,210\n2025-06-01,480\n2025-07-01,720\n",
		"nobird.csv":    "ring,breed,date,weight (g)\nR1,Sussex,2025-04-03,612\n,,2025-04-13,640\nR2,,2025-04-13,720\n",
		"remarks.csv":   "ring,breed,date,weight (g),notes\nR1,Sussex,2025-04-03,612,dusted with pyrethrum\nR2,Sussex,2025-04-03,700,gone broody\nR1,,2025-04-13,640,RIP\nR2,,2025-04-13,,died 3/5/25\n",
		"twice.csv":     "ring,name,breed,date,weight (g)\nR1,Bess,Sussex,2025-04-03,612\nR1,Bess,,2025-04-03,655\nR1,Clary,,2025-04-13,640\nR2,Dot,,2025-04-13,720\nR2,Dot,,2025-05-13,740\n",
		"hatched.csv":   "ring,breed,hatched,date,weight (g)\nR1,Sussex,2025-03-01,2025-01-03,612\nR2,Sussex,2025-03-01,2025-06-03,700\n",
		"pounds.csv":    "ring,breed,date,weight lb\nR1,Sussex,2025-04-03,2.4\nR2,Sussex,2025-04-03,2.11\nR1,,2025-04-13,3.2\nR2,,2025-04-13,2-Apr\n",
		"serials.csv":   "ring,breed,date,weight (g)\nR1,Sussex,45760,850\nR1,,45767,861\n",
		"many.csv":      "date,pen,breed,weight g\n13/4/2025,Pen 4,Sussex,850\n20/4/2025,Pen 4,Sussex,861\n",
		"undated.csv":   "ring,13/4/2025,20/4/2025\nR1,3,4\nR2,2,3\n",
		"heading.csv":   "date,ring,breed,Heft\n13/4/2025,R1,Sussex,850g\n20/4/2025,R1,,5 up\n20/4/2025,R2,,7 up\n27/4/2025,R3,,6 up\n",
		"transpose.csv": "Bird,R1,R2,R3\n1/5/2025,123,103,100\n20/5/2025,284,228,238\n",
		"diary.txt":     "18/10/2025 Hetty 1105g\n25/10/2025 Hetty moulting hard, 1080\n1/11/2025 Duke 1430g, dusted all\n",
		"pens.csv":      "date,ring,breed,weight g,pen\n18/10/2025,R1,Sussex,850,A\n18/10/2025,R2,Sussex,910,\n18/10/2025,R3,,870,B\n18/10/2025,R4,,880,\n",
	}
}

// reader reads a folder as check does.
func reader(t *testing.T, dir string) []*record.Dataset {
	t.Helper()
	day, err := record.ParseDay("2026-06-01")
	if err != nil {
		t.Fatal(err)
	}
	var out, errOut strings.Builder
	flocks, err := readFlocks(context.Background(), world{out: &out, err: &errOut}, []string{dir}, ingest.Options{Today: day})
	if err != nil {
		t.Fatal(err)
	}
	return flocks
}

// Whatever a question offers settles it, and is not asked again; and of the cell that it is about no two records say
// different things.
func TestEveryOfferSettlesItsQuestion(t *testing.T) {
	classes := map[string]bool{}
	for _, name := range sortedNames(offersIn()) {
		dir := t.TempDir()
		write(t, dir, name, offersIn()[name])
		everyOffer(t, dir, name, classes)
	}
	const least = 25
	if len(classes) < least {
		t.Errorf("only %d classes of questions are tried: %v", len(classes), sortedNames(classes))
	}
}

func everyOffer(t *testing.T, dir, name string, classes map[string]bool) {
	t.Helper()
	flocks := reader(t, dir)
	for _, q := range openQuestions(flocks) {
		classes[q.Class] = true
		o := offersFor(q, flocks)
		for i, r := range o.readings {
			for _, typed := range []string{letter(i), r.Label} {
				value, complaint := o.value(typed, flocks)
				if complaint != "" {
					t.Errorf("%s: %s: %q is offered and refused: %s", name, q.Message, typed, complaint)
					continue
				}
				if typed == letter(i) {
					offerSettles(t, dir, name, q, r.Label, value, flocks)
				}
			}
		}
	}
}

func offerSettles(t *testing.T, dir, name string, q record.Question, label, value string, flocks []*record.Dataset) {
	t.Helper()
	a := &settings.Answers{}
	one := settings.Answer{Key: q.Key, Value: value, Cell: q.At.Key(), Raw: q.Raw}
	if aboutOneCell(q) {
		one.Row = rowOf(q.At, flocks)
	}
	a.Set(one)
	data, err := a.Encode()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "answers.toml")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	now := reader(t, dir)
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	for _, open := range openQuestions(now) {
		if open.Key == q.Key || open.Class == q.Class && slices.Contains(append([]record.Ref{open.At}, open.More...), q.At) {
			t.Errorf("%s: %s\n\toffers %q (%s), which does not settle it: asked %s", name, q.Message, label, value, open.Message)
		}
	}
	for _, d := range now {
		for _, f := range d.Files {
			for _, n := range f.Notes {
				if strings.Contains(n, "settles nothing") {
					t.Errorf("%s: %s\n\toffers %q (%s), and then: %s", name, q.Message, label, value, n)
				}
			}
		}
		said := map[record.Ref]record.Observation{}
		for _, o := range d.Observations {
			if first, ok := said[o.At]; ok && first.Trait == o.Trait && first.Parasite == o.Parasite && first.Bird == o.Bird && first.On == o.On && first.Value != o.Value {
				t.Errorf("%s: %s\n\tanswered %q, says both %v and %v", name, q.Message, label, first.Value, o.Value)
			}
			said[o.At] = o
		}
	}
}
