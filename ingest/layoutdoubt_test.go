package ingest

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/settings"
)

// A sheet that reads about as well lying on its side is asked about once, and either answer is followed. Invented.
func TestLayoutDoubtfulFromEndToEnd(t *testing.T) {
	var texts []string
	clear := 0 // of the first sheets, whose every row is understood
	for strange := range 5 {
		for dates := 3; dates <= 12; dates++ {
			for _, facts := range []string{"Sex,m,f,f,m\n", "Sex,m,f,f,m\nHatched,2024-12-20,2024-12-20,2024-12-20,2024-12-21\nBreed,Sebright,Sebright,Sebright,Sebright\n"} {
				var b strings.Builder
				b.WriteString("Ring,T1,T2,T3,T4\n" + facts)
				for i := range dates {
					fmt.Fprintf(&b, "2025-%02d-01,%dg,%dg,%dg,%dg\n", i+1, 123+60*i, 103+55*i, 100+50*i, 130+61*i)
				}
				for i := range strange {
					fmt.Fprintf(&b, "Mark %c,q,r,q,s\n", 'p'+i)
				}
				texts = append(texts, b.String())
			}
		}
		if strange == 0 {
			clear = len(texts)
		}
	}
	asked := 0
	for i, text := range texts {
		dir := write(t, map[string]string{"a.csv": text})
		for _, q := range load(t, filepath.Join(dir, "a.csv"))[0].Questions {
			if q.Class != "layout_doubtful" {
				continue
			}
			if asked++; i < clear {
				t.Errorf("all of this sheet is understood, and yet it is asked how it lies:\n%s", text)
			}
			for _, r := range q.Readings {
				a := &settings.Answers{}
				a.Set(settings.Answer{Key: q.Key, Value: r.Value, Cell: q.At.Key()})
				sets := load2(t, dir, a)
				if slices.Contains(classes(sets), "layout_doubtful") {
					t.Errorf("%s is answered and asked again", r.Label)
				}
				if n := strings.Count(text, "\n2025-") * 4; r.Value == "columns" && len(sets[0].Observations) != n {
					t.Errorf("%s: %d weights, want %d; asked %v\n%s", r.Label, len(sets[0].Observations), n, classes(sets), text)
				}
				checkFates(t, sets)
			}
		}
	}
	if asked == 0 {
		t.Error("none of the sheets is in doubt")
	}
}
