package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"keelmark/notebooks/reports"
)

// The flocks of these tests are invented.

func entry(t *testing.T, csv string, args ...string) (page string, code int, said string) {
	t.Helper()
	dir := t.TempDir()
	path := write(t, dir, "flock.csv", csv)
	args = append([]string{"report", "entry", "--today", "2025-11-20", "--show", "2025-12-13", "--country", "US", "--out", dir}, args...)
	code, out, errOut := keelmark(t, append(args, path)...)
	html, err := os.ReadFile(filepath.Join(dir, "flock-entry.html"))
	if err != nil && code != exitFailed {
		t.Fatalf("exit %d, %v\n%s%s", code, err, out, errOut)
	}
	return string(html), code, out + errOut
}

const sussex = "ring,name,sex,breed,size,hatched,date,weight (g),lice (count),remarks\n" +
	"R1,Dot,F,Sussex,large,2023-04-01,2025-09-20,2900,0,\n" +
	"R1,Dot,F,Sussex,large,2023-04-01,2025-10-20,2950,0,\n" +
	"R1,Dot,F,Sussex,large,2023-04-01,2025-11-17,2930,0,%s\n"

func TestTheEntryReportOfOddFlocks(t *testing.T) {
	for name, c := range map[string]struct{ csv, says string }{
		"one bird with all":       {strings.ReplaceAll(sussex, "%s", ""), "Decision"},
		"no hatch date, no breed": {"ring,date,weight (g)\nR1,2025-11-01,2900\nR1,2025-11-10,2950\n", "cannot say"},
		"looks and no weights":    {"ring,date,lice (count)\nR1,2025-11-01,0\nR2,2025-11-01,3\n", "last look"},
		"a register alone":        {"ring,name,sex,breed,hatched\nR1,Dot,F,Sussex,2023-04-01\n", "cannot say"},
		"a breed that no table has": {"ring,sex,breed,size,hatched,date,weight (g)\nR1,F,Wrenlow Blue,large,2023-04-01,2025-11-10,2900\n",
			"cannot say"},
	} {
		page, code, said := entry(t, c.csv)
		if code != exitDone && code != exitQuestions {
			t.Errorf("%s: exit %d\n%s", name, code, said)
			continue
		}
		if !strings.Contains(page, c.says) || !strings.Contains(page, "R1") {
			t.Errorf("%s: the page does not say %q", name, c.says)
		}
		for _, word := range []string{"guaranteed", "disqualif", "healthy", "cured", "Error", "cell 1"} {
			if strings.Contains(page, word) {
				t.Errorf("%s: the page says %q", name, word)
			}
		}
	}
	if _, code, said := entry(t, "ring,date,weight (g)\n"); code != exitFailed || !strings.Contains(said, "nothing could be read") {
		t.Errorf("no rows: exit %d\n%s", code, said)
	}
}

func TestAStopSignSilencesTheReport(t *testing.T) {
	page, _, _ := entry(t, strings.ReplaceAll(sussex, "%s", "gasping since morning"))
	if !strings.Contains(page, "animal health authority") || !strings.Contains(page, "gasping since morning") {
		t.Error("the stop sign is not on the page")
	}
	for _, silent := range []string{"chance of being inside", "None seen", "One line a bird"} {
		if strings.Contains(page, silent) {
			t.Errorf("the page still says %q", silent)
		}
	}
}

func TestCheckTellsOfAStopSignFirst(t *testing.T) {
	path := write(t, t.TempDir(), "a.csv", "date,ring,weight (g),remarks\n2025-11-19,R1,2900,\n2025-11-19,R2,,gasping badly\n")
	if _, out, _ := keelmark(t, "check", "--today", "2025-11-20", path); !strings.HasPrefix(out, "■ stop") || !strings.Contains(out, "gasping badly") {
		t.Errorf("check says:\n%s", out)
	}
}

func TestParametersOfAReport(t *testing.T) {
	csv := strings.ReplaceAll(sussex, "%s", "") + "R2,Ash,F,Sussex,large,2023-04-01,2025-11-17,3000,0,\n"
	page, _, _ := entry(t, csv, "-p", "bird=R2")
	if !strings.Contains(page, "R2") || strings.Contains(page, "Dot") {
		t.Error("the report of one bird shows another, or not its own")
	}
	if page, _, _ := entry(t, csv, "-p", "pages=False"); strings.Contains(page, "Decision: ") {
		t.Error("pages were printed that were not wanted")
	}
}

func TestAPhotographStandsOnItsPage(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "flock.csv", strings.ReplaceAll(sussex, "%s", ""))
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 8, 6))); err != nil {
		t.Fatal(err)
	}
	write(t, dir, "r1.PNG", b.String())
	write(t, dir, "R9.jpg", "no bird has this ring")
	write(t, dir, "Dot.jpg", "no picture")
	code, out, errOut := keelmark(t, "report", "entry", "--today", "2025-11-20", "--country", "US", "--out", dir, path)
	page, err := os.ReadFile(filepath.Join(dir, "flock-entry.html"))
	if err != nil {
		t.Fatalf("exit %d, %v\n%s%s", code, err, out, errOut)
	}
	if n := strings.Count(string(page), "photograph of R1 Dot"); n == 0 || !strings.Contains(string(page), "data:image/jpeg;base64,") {
		t.Errorf("the photograph is named %d times", n)
	}
	if !strings.Contains(errOut, "Dot.jpg") || !strings.Contains(errOut, "left out") || strings.Contains(errOut, "R9") {
		t.Errorf("said: %s", errOut)
	}
}

func TestTheReportAsAWorkbook(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, "flock.csv", strings.ReplaceAll(sussex, "%s", ""))
	code, out, errOut := keelmark(t, "report", "entry", "--format", "xlsx", "--today", "2025-11-20", "--country", "US", "--out", dir, path)
	if code != exitDone || !strings.HasSuffix(strings.TrimSpace(out), "flock-entry.xlsx") {
		t.Errorf("exit %d\n%s%s", code, out, errOut)
	}
	if book, err := os.ReadFile(filepath.Join(dir, "flock-entry.xlsx")); err != nil || !strings.HasPrefix(string(book), "PK") {
		t.Errorf("no workbook: %v", err)
	}
	if code, _, said := keelmark(t, "report", "entry", "--format", "docx", path); code != exitUsage || !strings.Contains(said, "xlsx") {
		t.Errorf("an unknown format: exit %d, %s", code, said)
	}
}

func TestTheSeasonReport(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("ring,date,lice (count),treated with,remarks\n")
	for year := 2023; year <= 2025; year++ {
		for month := 1; month <= 11; month++ {
			for bird := 1; bird <= 6; bird++ {
				count, product := 0, ""
				if month >= 7 && month <= 9 && bird < 5 {
					count = 10
				}
				if month == 9 && bird < 5 {
					product = "dust"
				}
				fmt.Fprintf(&rows, "R%d,%d-%02d-10,%d,%s,\n", bird, year, month, count, product)
			}
		}
	}
	run := func(csv string) string {
		dir := t.TempDir()
		path := write(t, dir, "flock.csv", csv)
		code, out, errOut := keelmark(t, "report", "season", "--today", "2025-11-20", "--out", dir, path)
		page, err := os.ReadFile(filepath.Join(dir, "flock-season.html"))
		if err != nil {
			t.Fatalf("exit %d, %v\n%s%s", code, err, out, errOut)
		}
		return string(page)
	}
	page := run(rows.String())
	for _, want := range []string{"In 3 of 3 years lice were found between", "Months at risk, by your own years", "3/3", "0/3", "Lice round the year", "unknown - do not assume none",
		"Decision: what to do this season", "follow the label"} {
		if !strings.Contains(strings.ReplaceAll(page, "Follow", "follow"), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	page = run(rows.String() + "R1,2025-11-19,0,,gasping badly\n")
	if !strings.Contains(page, "gasping badly") || strings.Contains(page, "Months at risk") || strings.Contains(page, "In 3 of 3 years") {
		t.Error("a stop sign does not silence the report of the season")
	}
	if page := run("ring,date,weight (g)\nR1,2025-11-01,2900\nR1,2025-11-10,2950\n"); !strings.Contains(page, "no look for lice or mites") && !strings.Contains(page, "Cannot say") {
		t.Error("a flock that nobody looked at")
	}
}

// Every report is made of whatever a sheet holds, however little: a flock that was never weighed, never looked at, or is
// only a register has its pages too.
func TestEveryReportIsMadeOfThinRecords(t *testing.T) {
	sheets := map[string]string{ // invented
		"held back":   "My bantams 2025,,,\nRing,Sex,Hatched,3 May,7 Jun\n14,ckl,1/3/25,420,690\n15,plt,1/3/25,390,610g\n17,ckl,2/3/25,400,died\n",
		"register":    "Ring,Sex,Breed,Hatched\nR1,F,Sussex,2024-03-01\nR2,M,Sussex,2024-03-01\n",
		"looks only":  "Ring,Date,Lice\nR1,2025-07-01,0\nR2,2025-07-01,3\n",
		"one weight":  "Ring,Date,Weight (g)\nR1,2025-07-01,900\n",
		"scores":      "Ring,Date,Condition (0-3)\nR1,2025-07-01,2\nR2,2025-07-01,1\n",
		"eggs":        "Pen,Set on,Eggs set,Clear,Hatched\n1,2025-03-01,12,2,8\n1,2025-04-01,10,1,7\n",
		"treatments":  "Date,Treatment,Pen\n2025-06-01,permethrin dust,A\n2025-06-09,permethrin dust,A\n",
		"one of each": "Ring,Sex,Date,Weight (g),Lice,Treatment\nR1,F,2025-07-01,900,0,\nR1,F,2025-07-20,905,2,dusted\n",
	}
	for name, text := range sheets {
		dir := t.TempDir()
		write(t, dir, "book.csv", text)
		for _, report := range reports.Names() {
			code, out, errOut := keelmark(t, "report", report, "--today", "2025-08-01", "--show", "2025-10-04", "--out", filepath.Join(dir, "out"), filepath.Join(dir, "book.csv"))
			if code != exitDone && code != exitQuestions {
				t.Errorf("%s, %s: exit %d\n%s%s", name, report, code, out, errOut)
			}
		}
		if code, _, errOut := keelmark(t, "plan", "--today", "2025-08-01", "--show", "2025-10-04", "--out", filepath.Join(dir, "out"), filepath.Join(dir, "book.csv")); code != exitDone && code != exitQuestions {
			t.Errorf("%s, plan: exit %d\n%s", name, code, errOut)
		}
	}
}
