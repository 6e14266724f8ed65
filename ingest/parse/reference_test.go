//go:build reference

package parse

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// key is the part of an answer key that single cells can be held against.
type key struct {
	Records []struct {
		Kind, Cell, Form, Scale, Parasite, Date string
		Value                                   any
		Lo, Hi, Tol                             float64
		Raw                                     any
		SameAs                                  string `json:"same_as"`
	}
	Issues []struct {
		Class, Cell, Action string
		Raw                 any
		Candidates          []struct {
			Value float64
			Date  string
		}
	}
}

// columns is what heading, units column and the rest of the file say of the cells, as a reader of the whole
// file would find it.
var columns = map[string]struct {
	weight  WeightIn
	score   ScoreIn
	finding FindingIn
	date    DateIn
}{
	"s02": {weight: WeightIn{Unit: Grams}},
	"s03": {weight: WeightIn{Unit: PoundOz, Order: DMY}, date: DateIn{Order: DMY, Year: 2025}},
	"s04": {},
	"s05": {weight: WeightIn{Unit: Kilos, Mark: ","}, score: oneToFive},
	"s06": {weight: WeightIn{Unit: Grams}, score: zeroToThree},
	"s07": {weight: WeightIn{Unit: Pounds, Point: PointDecimal}, date: DateIn{Order: MDY, Weekday: "Sat"}},
	"s08": {finding: FindingIn{Dash: DashNone}},
	"s09": {weight: WeightIn{Unit: Grams}},
	"s18": {},
	"s19": {score: oneToFive},
	"s20": {weight: WeightIn{Unit: Ounces}},
}

// TestReferenceKeys reads every cell text that the keys of the invented workbooks quote.
func TestReferenceKeys(t *testing.T) {
	root := os.Getenv("KEELMARK_REFERENCE")
	if root == "" {
		t.Fatal("KEELMARK_REFERENCE is not set; give it the folder that holds fixtures/")
	}
	files, err := filepath.Glob(filepath.Join(root, "fixtures", "ingest", "*.key.json"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no keys under %s: %v", root, err)
	}
	records, issues := 0, 0
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var k key
		if err := json.Unmarshal(data, &k); err != nil {
			t.Fatal(err)
		}
		stem := filepath.Base(file)[:3]
		in := columns[stem]
		for _, r := range k.Records {
			if r.Raw == nil {
				continue
			}
			c := stored(r.Raw)
			where := fmt.Sprintf("%s %s %q", stem, r.Cell, c.Text)
			records++
			switch r.Kind {
			case "weight":
				w := in.weight
				if want := r.Value.(float64); stem == "s04" { // a units column beside
					w.Unit = Grams
					if v := r.Raw.(float64); v < 15 && want > 15 {
						w.Unit = Kilos
					}
				}
				if m, p := Weight(c, w); p.Holds() || math.Abs(m.Grams-r.Value.(float64)) > max(.6, r.Tol) {
					t.Errorf("%s: got %+v, %v; want %v g", where, m, p, r.Value)
				}
			case "condition":
				if g, p := Score(c, in.score); p.Holds() || g.Value != r.Value.(float64) || g.Scale != r.Scale {
					t.Errorf("%s: got %+v, %v; want %v", where, g, p, r.Value)
				}
			case "parasite":
				f := in.finding
				f.Parasite = r.Parasite
				g, p := Finding(c, f)
				ok := !p.Holds() && string(g.Form) == r.Form && g.Lo == r.Lo && g.Hi == r.Hi && g.Parasite == r.Parasite && g.Scale == r.Scale
				switch want := r.Value.(type) {
				case string:
					ok = ok && g.Word == want
				case bool:
					ok = ok && (g.Value == 1) == want
				case float64:
					ok = ok && g.Value == want
				}
				if !ok {
					t.Errorf("%s: got %+v, %v; want %s %v", where, g, p, r.Form, r.Value)
				}
			}
		}
		for _, e := range k.Issues {
			got, readings, mine := problemOf(e.Class, stem, stored(e.Raw))
			if !mine {
				continue
			}
			issues++
			where := fmt.Sprintf("%s %s %v", stem, e.Cell, e.Raw)
			want := map[string]Action{"query": Ask, "flag": Tell, "reject": Refuse, "skip": Skip, "may": Ask}[e.Action]
			if got == nil || string(got.Class) != e.Class || got.Action != want {
				t.Errorf("%s: got %+v, want %s, %s", where, got, e.Class, e.Action)
				continue
			}
			for _, candidate := range e.Candidates {
				day := candidate.Date
				if day != "" && strings.HasPrefix(e.Class, "date_") && e.Class != "date_in_weight_cell" {
					if !strings.Contains(readings, day) && e.Class != "date_day_missing" {
						t.Errorf("%s: readings %s lack %s", where, readings, day)
					}
				} else if candidate.Value != 0 && !hasGrams(got.Readings, candidate.Value) {
					t.Errorf("%s: readings %s lack %v g", where, readings, candidate.Value)
				}
			}
		}
	}
	t.Logf("%d texts of records, %d of issues", records, issues)
	if records < 200 || issues < 40 {
		t.Errorf("only %d texts of records and %d of issues were held against the keys", records, issues)
	}
}

// hasGrams reports whether a reading is within 3 % of a weight: a key may take a candidate from the bird's curve.
func hasGrams(readings []record.Reading, grams float64) bool {
	for _, r := range readings {
		if m, p := Weight(T(r.Value), WeightIn{}); p == nil && math.Abs(m.Grams-grams) < .03*grams {
			return true
		}
	}
	return false
}

// stored is the cell that a value of the key stands in.
func stored(raw any) Cell {
	switch v := raw.(type) {
	case float64:
		return Cell{Text: figure(v, 10), Stored: Number}
	case bool:
		return Cell{Text: map[bool]string{true: "1", false: "0"}[v], Stored: Bool}
	case string:
		return T(v)
	}
	return Cell{Stored: Blank}
}

// problemOf reads an issue's cell with the parser that its class belongs to.
func problemOf(class, stem string, c Cell) (p *Problem, readings string, mine bool) {
	in := columns[stem]
	switch Class(class) {
	case DateInWeight:
		c = Cell{Text: "45388", Stored: Dated, Format: "d-mmm"} // the serial that the workbook holds
		_, p = Weight(c, in.weight)
	case PercentCell:
		c.Stored = Percent
		_, p = Weight(c, in.weight)
	case FormulaError:
		c = Cell{Text: "#DIV/0!", Stored: Error, Formula: true}
		_, p = Weight(c, in.weight)
	case NoCache:
		_, p = Weight(Cell{Formula: true}, in.weight)
	case BooleanCell, OuncesTooMany, WeightZero, WeightNegative, WeightEnormous, NoteWithNumber, NoteInNumber, DeathMarker, EventMarker, MissingMarker, UnitSlip:
		_, p = Weight(c, in.weight)
	case UnknownValue:
		_, p = Finding(c, in.finding)
	case ScoreAmbiguous, ScoreOutOfRange:
		_, p = Score(c, in.score)
	case DateInvalid, DateUnreadable, DateSerial, DateDayMissing, DateOrderConflict, DateMissing:
		_, p = Date(c, in.date)
	case DateAncient, DateFuture:
		today, _ := record.ParseDay("2025-12-31")
		c.Stored = Dated
		_, p = Date(c, DateIn{Latest: today})
	case WeekdayMismatch:
		_, p = Date(T("7/12/2025"), DateIn{Order: MDY, Weekday: c.Text})
	case TreatmentInRemarks:
		_, p = TreatmentInRemark(c.Text)
	default:
		return nil, "", false
	}
	if p != nil {
		readings = fmt.Sprint(p.Readings)
	}
	return p, readings, true
}
