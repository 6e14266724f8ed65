package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
	"keelmark/ingest"
	"keelmark/ingest/record"
)

// wordingFlocks are invented flocks whose numbers are those at which sentences go wrong: none, one, two, much missing.
func wordingFlocks(t *testing.T) map[string]string {
	dir := t.TempDir()
	out := map[string]string{}
	for name, csv := range map[string]string{
		"one weighing":          "ring,date,weight (g)\nR1,2025-11-01,900\n",
		"one bird in full":      strings.ReplaceAll(sussex, "%s", ""),
		"a register":            "name,sex\nHetty,hen\nDuke,cock\n",
		"a treatment each way":  "date,ring,sex,weight (g),treatment,withdrawal\n2025-10-01,R1,hen,1100,mite powder,nil\n2025-10-01,R2,hen,1100,mite powder,\n,R3,hen,1100,dusted,0\n",
		"one look":              "date,ring,lice (count)\n2025-11-19,R1,1\n",
		"two looks a day apart": "date,ring,lice (count),mites (count)\n2025-11-18,R1,0,3\n2025-11-19,R1,0,\n2025-11-19,R2,2,0\n",
		"gone or not":           "ring,sex,2025-09-01,2025-10-01,2025-11-01\nR1,hen,1000,1010,died\nR2,hen,1000,sold,1020\nR3,hen,1000,1015,1020\n",
		"a breed half known":    "ring,breed,sex,hatched,date,weight (g)\nU1,Wyandot,F,2024-04-01,2025-11-01,1200\nU1,Wyandot,F,2024-04-01,2025-11-15,1210\nU2,Sebright bantam,F,2024-04-01,2025-11-01,1200\nU2,Sebright bantam,F,2024-04-01,2025-11-15,1190\nU3,Sussex,M,2024,2025-11-01,1200\n",
		"young birds":           young(2),
	} {
		out[name] = write(t, dir, strings.ReplaceAll(name, " ", "-")+".csv", csv)
	}
	return out
}

// young are growing chicks of one line, weighed each fortnight.
func young(birds int) string {
	var b strings.Builder
	b.WriteString("ring,breed,size,sex,hatched,date,weight (g),lice (count)\n")
	for i := range birds {
		for k, g := range []int{60, 150, 290, 450, 600, 730} {
			day, _ := record.ParseDay("2025-06-14")
			fmt.Fprintf(&b, "Y%d,Sussex,bantam,F,2025-06-01,%s,%d,0\n", i+1, day+record.Day(14*k), g+9*i+k*k%5)
		}
	}
	return b.String()
}

// loadForWording reads a flock as the analyse verb does.
func loadForWording(t *testing.T, path string) (*record.Dataset, record.Day) {
	t.Helper()
	today, _ := record.ParseDay("2025-11-20")
	sets, err := ingest.Load(context.Background(), []string{path}, ingest.Options{Today: today, KeepTexts: true})
	if err != nil || len(sets) != 1 {
		t.Fatalf("%s: %d flocks, %v", path, len(sets), err)
	}
	show, _ := record.ParseDay("2025-12-13")
	sets[0].Settings.Show.Date = record.On(show)
	sets[0].Settings.Flock.Country = "US"
	return sets[0], today
}

// Every sentence of every analysis keeps to the house's wording, over the demo and invented flocks.
func TestEverySentenceKeepsToTheHousesWording(t *testing.T) {
	flocks := wordingFlocks(t)
	flocks["the demo"] = filepath.Join(t.TempDir(), "demo")
	if code, said, errors := keelmark(t, "demo", flocks["the demo"]); code != exitDone {
		t.Fatalf("demo: %s%s", said, errors)
	}
	flocks["the demo"] = filepath.Join(flocks["the demo"], "wrenlow-yard")
	for name, path := range flocks {
		d, today := loadForWording(t, path)
		c, err := contextOf(d, today)
		if err != nil {
			t.Fatal(err)
		}
		for _, spec := range catalog.All() {
			r, err := spec.Run(context.Background(), c, d, nil)
			if err != nil { // there is nothing to work on: said in words
				for _, wrong := range analysis.LintText(err.Error()) {
					t.Errorf("%s, %s: %s in %q", name, spec.Name, wrong, err)
				}
				continue
			}
			for _, claim := range r.Claims() {
				for _, wrong := range claim.Lint() {
					t.Errorf("%s, %s, %s: %s in %q", name, spec.Name, claim.ID, wrong, claim.Text)
				}
			}
			for _, table := range r.Tables() {
				for _, wrong := range lintTable(table) {
					t.Errorf("%s, %s, table %s: %s", name, spec.Name, table.Name, wrong)
				}
			}
			if with, ok := r.(analysis.Cautioned); ok {
				for _, caution := range with.Cautions() {
					for _, wrong := range analysis.LintText(caution.Text) {
						t.Errorf("%s, %s, caution %s: %s", name, spec.Name, caution.Topic, wrong)
					}
				}
			}
		}
	}
}

func lintTable(table analysis.Table) []string {
	var out []string
	out = append(out, analysis.LintText(table.Caption)...)
	for _, row := range table.Rows {
		for _, v := range row {
			if text, ok := v.(string); ok {
				for _, wrong := range analysis.LintText(text) {
					out = append(out, fmt.Sprintf("%s in %q", wrong, text))
				}
			}
		}
	}
	return out
}

// Every page has what a decision needs: a blank line for each bird, and the cautions of its topics.
func TestEveryPageHasItsCautionsAndABlankLine(t *testing.T) {
	flocks := wordingFlocks(t)
	for _, report := range []string{"breeding", "culling"} {
		flocks[report] = flocks["a treatment each way"]
	}
	for name, path := range flocks {
		dir, report := t.TempDir(), "entry"
		if name == "breeding" || name == "culling" {
			report = name
		}
		code, out, errors := keelmark(t, "report", report, "--today", "2025-11-20", "--show", "2025-12-13", "--country", "US", "--out", dir, path)
		if code != exitDone && code != exitQuestions {
			t.Errorf("%s: exit %d\n%s%s", name, code, out, errors)
			continue
		}
		pages, err := filepath.Glob(filepath.Join(dir, "*.html"))
		if err != nil || len(pages) != 1 {
			t.Fatalf("%s: %v %v", name, pages, err)
		}
		html, err := os.ReadFile(pages[0])
		if err != nil {
			t.Fatal(err)
		}
		page := string(html)
		d, _ := loadForWording(t, path)
		here := analysis.PresenceOf(d)
		today, _ := record.ParseDay("2025-11-20")
		birds := 0
		for _, b := range d.Birds {
			if !here.Gone(b.ID, today) {
				birds++
			}
		}
		if n := strings.Count(page, ">Decision: "); n != birds {
			t.Errorf("%s: %d blank decision lines for %d birds", name, n, birds)
		}
		wanted := []string{map[string]string{"entry": "Before entering", "breeding": "Before pens are made", "culling": "Only by somebody who has been trained"}[report], "Signs that come first", "Avian influenza and Newcastle disease are notifiable"}
		for _, e := range d.Events {
			if e.Kind == record.Treated {
				wanted = append(wanted, "Treating parasites", "mask and gloves", "Withdrawal")
				if e.Treatment.Withdrawal == "" {
					wanted = append(wanted, "unknown - do not assume none")
				}
			}
		}
		for _, w := range wanted {
			if !strings.Contains(page, w) {
				t.Errorf("%s: the page lacks %q", name, w)
			}
		}
	}
}
