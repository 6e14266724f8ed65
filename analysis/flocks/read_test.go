package flocks

import (
	"bytes"
	"math/rand/v2"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

// written is a released summary in both forms.
func written(t testing.TB) (s Summary, asJSON, asCSV []byte) {
	t.Helper()
	e := evening{flocks: 1, years: 1, careful: -1}
	truth := summarised(t, e.flock(rand.New(rand.NewPCG(2, 2)), 0), simulatedToday)
	s = Release(truth, simulatedToday, nil)
	if len(s.Total) < 5 || len(s.Cells) < 5 {
		t.Fatalf("%d totals and %d cells are too few to test with", len(s.Total), len(s.Cells))
	}
	asJSON, err := s.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if asCSV, err = s.CSV(); err != nil {
		t.Fatal(err)
	}
	s.members = nil
	return s, asJSON, asCSV
}

func TestASummaryReadsBack(t *testing.T) {
	want, asJSON, asCSV := written(t)
	for name, data := range map[string][]byte{"k7.json": asJSON, "k7.csv": asCSV, "bom.csv": append([]byte("\xef\xbb\xbf"), asCSV...), "dos.csv": bytes.ReplaceAll(asCSV, []byte("\n"), []byte("\r\n"))} {
		if !IsSummary(data[:200]) {
			t.Errorf("%s is not known for a summary", name)
		}
		got, err := Read(name, data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s reads as\n%+v\nwant\n%+v", name, got, want)
		}
	}
}

func TestOnlyReleasedSummariesAreWritten(t *testing.T) {
	s, _, _ := written(t)
	s.Released = false
	if _, err := s.JSON(); err == nil {
		t.Error("a summary with small groups in it is written")
	}
	s.Released, s.Code = true, "Jane Doe, Low Barn"
	if _, err := s.CSV(); err == nil {
		t.Error("a code that is a name is written")
	}
}

func TestATamperedSummaryIsRefusedInWords(t *testing.T) {
	_, asJSON, asCSV := written(t)
	swap := func(data []byte, old, new string) []byte {
		if !bytes.Contains(data, []byte(old)) {
			t.Fatalf("%q is not in the summary", old)
		}
		return bytes.Replace(data, []byte(old), []byte(new), 1)
	}
	line := func(data []byte, part string) string {
		for l := range strings.Lines(string(data)) {
			if strings.Contains(l, part) {
				return strings.TrimRight(l, "\n")
			}
		}
		t.Fatalf("no line with %q", part)
		return ""
	}
	lice := line(asJSON, `"measure":"lice"`)
	csvLice := line(asCSV, ",lice,")
	fields := strings.Split(csvLice, ",")
	csvWith := func(column int, value string) []byte {
		f := append([]string(nil), fields...)
		f[column] = value
		return swap(asCSV, csvLice, strings.Join(f, ","))
	}
	for _, c := range []struct {
		why, want string
		data      []byte
	}{
		{"a number changed by hand", "do not fit their checksum", swap(asJSON, `"birds":30,"clusters"`, `"birds":29,"clusters"`)},
		{"more found than looked at", ": lice counts 99999 of", swap(asJSON, lice, regexp.MustCompile(`"x":[0-9]+`).ReplaceAllString(lice, `"x":99999`))},
		{"negative", "not a count or sum", csvWith(12, "-4")},
		{"unknown measure", `measure "beauty" is not known`, csvWith(3, "beauty")},
		{"no number", `column x: "many" is not a number`, csvWith(13, "many")},
		{"half a bird", "whole numbers", csvWith(13, "1.5")},
		{"x over n", "more than there are", csvWith(13, "99999")},
		{"not a number at all", "not a count or sum", csvWith(12, "NaN")},
		{"a small group", "should not have left its keeper", csvWith(10, "4")},
		{"unknown half year", "half year", csvWith(5, "2025-H3")},
		{"another code within", "one file holds one flock", csvWith(1, "K8")},
		{"another checksum within", "checksum differs", csvWith(15, "0000")},
		{"a row twice", "stands twice", swap(asCSV, csvLice, csvLice+"\n"+csvLice)},
		{"a row less", "do not fit their checksum", swap(asJSON, line(asJSON, `"season":`)+"\n", "")},
		{"made by a later Keelmark", "take a newer Keelmark", swap(asJSON, `"version": 1`, `"version": 2`)},
		{"later, as csv", "take a newer Keelmark", swap(asCSV, "\n1,", "\n7,")},
		{"unknown field", "unknown field", swap(asJSON, `"clusters"`, `"owner":"x","clusters"`)},
		{"unknown part", "not part of a summary", swap(asJSON, `"birds": `, `"place": 4,"birds": `)},
		{"cut off", "ends too early", asJSON[:len(asJSON)/2]},
		{"something after the end", "follows the end", append(bytes.Clone(asJSON), "{}"...)},
		{"no code", "is not a code", swap(asJSON, `"code": "K7"`, `"code": ""`)},
		{"missing part", "missing", []byte(`{"form":"keelmark flock summary","version":1}`)},
		{"another form", "and not a keelmark", swap(asJSON, form, "shopping list")},
		{"not a summary", "heading", []byte("ring,weight\nA1,2000\n")},
		{"empty", "heading", nil},
		{"huge", "too much", make([]byte, Largest+1)},
	} {
		_, err := Read("k7.file", c.data)
		switch {
		case err == nil:
			t.Errorf("%s: passes", c.why)
		case !strings.HasPrefix(err.Error(), "k7.file") || !strings.Contains(err.Error(), c.want):
			t.Errorf("%s: %v; want %q", c.why, err, c.want)
		}
	}
	if _, err := Read("k7.csv", csvWith(13, "99999")); err == nil || !strings.Contains(err.Error(), ", line ") {
		t.Errorf("a mistake in a row does not name its line: %v", err)
	}
}

func FuzzRead(f *testing.F) {
	_, asJSON, asCSV := written(f)
	f.Add(asJSON)
	f.Add(asCSV)
	f.Add([]byte(`{"form":"keelmark flock summary","version":1,"code":"K7","birds":5,"checksum":"","totals":[{"measure":"lice","half":{"year":2025,"second":0},"birds":5,"n":1e300,"x":0}],"cells":[]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("f", data)
		if err != nil {
			return
		}
		// What passes is written as it was read.
		again, err := s.JSON()
		if err != nil {
			t.Fatal(err)
		}
		back, err := Read("g", again)
		if err != nil {
			t.Fatalf("%v of %s", err, again)
		}
		if !reflect.DeepEqual(s, back) {
			t.Fatalf("%+v\nis read again as\n%+v", s, back)
		}
	})
}
