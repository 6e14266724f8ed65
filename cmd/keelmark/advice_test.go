package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// treatedFlock is an invented flock of two pens with looks for lice and mites, half of which was treated twice; no withdrawal
// was entered, and the product is nobody's.
func treatedFlock() string {
	var b strings.Builder
	b.WriteString("ring,sex,pen,hatched,date,weight (g),lice (count),mites (count),treatment,against,withdrawal\n")
	for month := range 12 {
		on, _ := record.ParseDay("2024-12-18")
		on += record.Day(28 * month)
		for i := range 16 {
			treatment := ","
			if month%4 == 2 && i%4 < 2 {
				treatment = "Brumlock dust,lice"
			}
			fmt.Fprintf(&b, "R%02d,hen,%c,2023-04-01,%s,1100,%d,%d,%s,\n", i+1, 'A'+rune(i%2), on, (month*7+i*5)%4, (month+i)%3, treatment)
		}
	}
	return b.String()
}

// forbidden is advice that Keelmark never gives: an amount, an active ingredient, a time until eggs or meat may be eaten, a word
// to use a product. What the keeper typed is not among it: the flock names none.
var forbidden = regexp.MustCompile(`(?i)\d\s?(ml|mg|mcg|µg|ppm|drops?|mg/kg|ml/l)\b|` +
	`ivermectin|moxidectin|permethrin|cypermethrin|deltamethrin|fipronil|pyrethr|malathion|carbaryl|lindane|spinosad|fluralaner|bendazole|levamisole|piperazine|diatom|` +
	`withdrawal[^.<]{0,60}\d+ ?(days?|hours?|h|d)\b|` +
	`\b(use|apply|give|buy|try|recommend|choose|switch to)\b[^.<]{0,25}\b(dust|spray|powder|pour-on|spot-on|dip|wormer|product)\b`)

// Every output that speaks of treatments carries the cautions on handling and on withdrawal, and none advises a product, an
// amount or a withdrawal time.
func TestTreatmentsCarryCautionsAndNoAdvice(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "flock.csv", treatedFlock())
	common := []string{"--today", "2025-11-20"}
	outputs := map[string]string{}
	for _, name := range []string{"treatment", "season", "parasite"} {
		for _, format := range []string{"text", "json"} {
			code, out, errOut := keelmark(t, append([]string{"analyse", name, "--format", format, path}, common...)...)
			if code != exitDone && code != exitQuestions {
				t.Fatalf("%s as %s: exit %d, %s", name, format, code, errOut)
			}
			outputs[name+" as "+format] = out
		}
	}
	for _, name := range []string{"season", "entry"} {
		args := append([]string{"report", name, "--out", dir, "--show", "2025-12-13", "--country", "US", path}, common...)
		if code, out, errOut := keelmark(t, args...); code != exitDone && code != exitQuestions {
			t.Fatalf("report %s: exit %d\n%s%s", name, code, out, errOut)
		}
		for _, kind := range []string{".html", ".ipynb"} {
			content, err := os.ReadFile(filepath.Join(dir, "flock-"+name+kind))
			if err != nil {
				t.Fatal(err)
			}
			outputs["report "+name+kind] = string(content)
		}
	}
	blank := regexp.MustCompile(`(?s)<style.*?</style>|<svg.*?</svg>|"image/[a-z+]+": ?"[^"]*"|data:[a-z/+]+;base64,[A-Za-z0-9+/=]+`)
	for name, out := range outputs {
		out = blank.ReplaceAllString(out, "")
		for _, caution := range []string{"with mask and gloves", "do not assume none"} {
			if !strings.Contains(strings.Join(strings.Fields(out), " "), caution) {
				t.Errorf("%s: no caution %q", name, caution)
			}
		}
		for _, at := range forbidden.FindAllStringIndex(out, 5) {
			t.Errorf("%s: %q", name, out[max(0, at[0]-80):min(len(out), at[1]+40)])
		}
	}
	for _, advice := range []string{"give 2 ml to each bird", "treat with ivermectin", "withdrawal of 7 days", "use a dust"} {
		if !forbidden.MatchString(advice) {
			t.Errorf("%q would pass", advice)
		}
	}
}
