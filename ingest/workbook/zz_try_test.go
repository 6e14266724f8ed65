package workbook_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/ingest"
	"keelmark/ingest/record"
	w "keelmark/ingest/workbook"
)

func TestTry(t *testing.T) {
	d := func(s string) w.Cell { x, err := record.ParseDay(s); if err != nil { t.Fatal(err) }; return w.Date(x) }
	T, N := w.Text, w.Number
	tab := func(name, heads string, rows ...[]w.Cell) w.Sheet { return w.Table(name, "", strings.Split(heads, "|"), rows) }
	run := func(label, toml string, sheets ...w.Sheet) {
		dir := t.TempDir()
		var b bytes.Buffer
		if err := w.Write(&b, sheets); err != nil { t.Fatal(err) }
		p := filepath.Join(dir, "x.xlsx")
		os.WriteFile(p, b.Bytes(), 0o644)
		if toml != "" { os.WriteFile(filepath.Join(dir, "x.flock.toml"), []byte(toml), 0o644) }
		sets, err := ingest.Load(context.Background(), []string{p}, ingest.Options{})
		if err != nil { t.Fatal(err) }
		fmt.Println("=====", label)
		for _, s := range sets {
			for _, x := range s.Birds { fmt.Printf("bird %+v\n", x) }
			for _, x := range s.Observations { fmt.Printf("obs %s %s %s %v %s %g %g-%g scale=%s text=%q flag=%v %+v\n", x.Bird, x.On, x.Trait, x.Parasite, x.Form, x.Value, x.Lo, x.Hi, x.Scale, x.Text, x.Flagged, x.Detail()) }
			for _, x := range s.Events { fmt.Printf("ev %s %s bird=%s pen=%s %s %q note=%q res=%q %+v %+v\n", x.Kind, x.Scope, x.Bird, x.Pen, x.On, x.Text, x.Note, x.Result, x.Treatment, x.Setting) }
			for _, x := range s.Questions { fmt.Printf("QUESTION %s %s\n", x.Class, x.Message) }
			for _, x := range s.Rejects { fmt.Printf("REJECT %s %s\n", x.Class, x.Message) }
			for _, x := range s.Asides { fmt.Printf("aside %s %v %v %s\n", x.Sheet, x.Rows, x.Cols, x.Why) }
			for _, x := range s.Files { fmt.Printf("file %s %s %q\n", x.Outcome, x.Reason, x.Notes) }
		}
	}
	run("lboz", "", tab("Weights", "Date|Ring|lb|oz|Condition (1-5)|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), N(2, 0), N(4, 0), N(3, 0)},
		[]w.Cell{d("2026-03-14"), T("R13"), N(0, 0), N(14.5, 1), N(3, 0)},
		[]w.Cell{d("2026-03-14"), T("R14"), w.Cell{}, N(14, 0), N(3, 0), T("small one")},
		[]w.Cell{d("2026-03-14"), T("R15"), N(5, 0), w.Cell{}, N(2, 0), T("small one")}))
	run("lboz single", "", tab("Weights", "Date|Ring|lb|oz|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), N(2, 0), N(4, 0)}))
	run("lbozpart", "", tab("Weights", "Date|Ring|Pounds part|Oz|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), N(2, 0), N(4, 0)}))
	run("lboz text", "", tab("Weights", "Date|Ring|Weight (lb-oz)|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), T("2 lb 4 oz")}, []w.Cell{d("2026-03-14"), T("R13"), T("2-4")}, []w.Cell{d("2026-03-14"), T("R14"), T("2 4")}, []w.Cell{d("2026-03-14"), T("R15"), T("14 oz")}))
	run("lb", "[units]\nweight=\"lb\"\n", tab("Weights", "Date|Ring|Weight (lb)|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), N(2.4, 2)}, []w.Cell{d("2026-03-14"), T("R13"), N(2.25, 2)}))
	run("lb two", "", tab("Weights", "Date|Ring|lb|oz|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), N(2.4, 2)}, []w.Cell{d("2026-03-14"), T("R13"), N(2.25, 2)}))
	run("colour", "", tab("Birds", "Ring|Ring colour|Name|Sex|Breed|Variety|Size|Strain|Hatch date|Pen|Remarks",
		[]w.Cell{T("12"), T("red"), T("Bess"), T("female"), T("Sussex"), T("light"), T("bantam"), T("own"), d("2025-03-01"), T("pen 3"), T("bought, left leg")},
		[]w.Cell{T("13"), T("blue"), w.Cell{}, T("male"), T("Sussex"), T("light"), T("bantam"), T("own"), T("2025"), T("pen 3"), T("")}),
		tab("Weights", "Date|Ring|Weight (g)|Condition (1-5)|Remarks", []w.Cell{d("2026-03-14"), T("12"), N(612, 0), N(3, 0)}, []w.Cell{d("2026-03-14"), T("13"), N(812, 0), N(3, 0)}))
	run("names", "", tab("Birds", "Ring|Name|Sex|Breed|Variety|Size|Strain|Hatch date|Pen|Remarks",
		[]w.Cell{T("Tansy"), w.Cell{}, T("female"), T("Sussex"), T("light"), T("bantam"), T("own"), d("2025-03-01"), T("pen 3"), T("bought, left leg")},
		[]w.Cell{T("13"), T("Bo"), T("male"), T("Sussex"), T("light"), T("bantam"), T("own"), T("2025"), T("pen 3"), T("")}),
		tab("Old", "Date|Name|Weight (g)", []w.Cell{d("2025-03-14"), T("Tansy"), N(612, 0)}, []w.Cell{d("2025-03-14"), T("Bo"), N(812, 0)}))
	run("checks", "", tab("Checks", "Date|Ring|Lice|Northern fowl mite|Red mite|Scaly leg|Scorer|Remarks",
		[]w.Cell{d("2026-03-14"), T("R12"), T("none"), T("light"), w.Cell{}, T("moderate"), T("AB")},
		[]w.Cell{d("2026-03-14"), T("pen 3"), w.Cell{}, w.Cell{}, T("heavy"), w.Cell{}, T("AB")},
		[]w.Cell{d("2026-03-15"), T("all"), N(0, 0), N(12, 0), T("none"), w.Cell{}, T("AB")}),
		tab("Treatments", "Date|Ring|Product|Against|Dose|Withdrawal|Given by|Remarks",
			[]w.Cell{d("2026-03-14"), T("R12"), T("product as labelled"), T("lice"), T("as labelled"), w.Cell{}, T("AB")},
			[]w.Cell{d("2026-03-14"), T("pen 3"), T("permethrin dust"), T("lice"), T("as labelled"), T("eggs 7 days"), T("AB"), T("second time")},
			[]w.Cell{d("2026-03-14"), T("all"), T("flubendazole in feed"), T("worms"), T("as labelled"), T("0 days"), T("AB")}),
		tab("Eggs", "Date|Setting|Male|Hens|Pen|Eggs set|Clear|Dead early|Dead in shell|Chicks hatched|Days stored|Remarks",
			[]w.Cell{d("2026-03-14"), T("1"), T("R1"), T("R12, R13"), T("pen 3"), N(12, 0), N(2, 0), N(1, 0), N(0, 0), N(9, 0), N(5, 0)},
			[]w.Cell{d("2026-03-21"), T("2"), T("R1"), T("R12, R13"), w.Cell{}, N(12, 0), w.Cell{}, w.Cell{}, w.Cell{}, w.Cell{}, w.Cell{}},
			[]w.Cell{d("2026-03-28"), T("3"), T("R1"), T("R12, R13"), w.Cell{}, N(12, 0), N(2, 0), w.Cell{}, w.Cell{}, w.Cell{}, w.Cell{}}),
		tab("Moves and losses", "Date|Ring|Pen|Show|Result|Gone|Reason|Remarks",
			[]w.Cell{d("2026-04-14"), T("R12"), T("pen 4")},
			[]w.Cell{d("2026-04-14"), T("R12"), w.Cell{}, T("Spring show"), T("2nd of 7")},
			[]w.Cell{d("2026-04-15"), T("R12"), w.Cell{}, w.Cell{}, w.Cell{}, T("died"), T("found in the morning")},
			[]w.Cell{d("2026-04-15"), T("R13"), w.Cell{}, w.Cell{}, w.Cell{}, T("sold"), T("to a friend")},
			[]w.Cell{d("2026-04-15"), T("R14"), w.Cell{}, w.Cell{}, w.Cell{}, T("put down")},
			[]w.Cell{d("2026-04-15"), T("R15"), w.Cell{}, w.Cell{}, w.Cell{}, T("given away")},
			[]w.Cell{d("2026-04-15"), T("R16"), w.Cell{}, w.Cell{}, w.Cell{}, T("killed by a predator")},
			[]w.Cell{d("2026-04-15"), T("R17"), w.Cell{}, w.Cell{}, w.Cell{}, T("lost")}))
	run("empty", "", tab("Weights", "Date|Ring|Weight (g)|Condition (1-5)|Remarks"), tab("Birds", "Ring|Ring colour|Name|Sex|Breed|Variety|Size|Strain|Hatch date|Pen|Remarks"))
}
