package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func TestAPlanIsWrittenAndALaterOneUpdatesIt(t *testing.T) {
	flock := filepath.Join("..", "..", "datasets", "demo", "files", "wrenlow-yard")
	make := func(today string) (string, string) {
		t.Helper()
		dir := t.TempDir()
		var out, errs bytes.Buffer
		code := run(context.Background(), []string{"plan", "--today", today, "--birds", "W22-01,W24-11", "--also", "Spring show=2026-03-14", "--out", dir, flock}, nil, &out, &errs)
		if code != exitDone && code != exitQuestions {
			t.Fatalf("exit %d: %s", code, errs.String())
		}
		for _, ext := range []string{".html", ".pdf", ".ipynb", ".ics"} {
			if found, _ := filepath.Glob(filepath.Join(dir, "*"+ext)); len(found) != 1 {
				t.Errorf("%d files *%s", len(found), ext)
			}
		}
		found, _ := filepath.Glob(filepath.Join(dir, "*.ics"))
		ics, err := os.ReadFile(found[0])
		if err != nil {
			t.Fatal(err)
		}
		return string(ics), out.String()
	}
	uids := func(ics string) []string {
		out := regexp.MustCompile(`(?m)^UID:.*$`).FindAllString(ics, -1)
		slices.Sort(out)
		return out
	}
	early, said := make("2025-09-01")
	late, _ := make("2025-09-08")
	if len(uids(early)) < 30 || !slices.Equal(uids(early), uids(late)) {
		t.Errorf("%d entries, a week later %d", len(uids(early)), len(uids(late)))
	}
	if !strings.Contains(said, "with 2 birds in the plan") || !strings.Contains(early, "20260314") {
		t.Errorf("said:\n%s", said)
	}
}

func TestAPlanWithoutAShowSaysWhatIsMissing(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "w.csv"), []byte("Ring,Date,Weight (g)\nR1,2025-09-01,900\nR2,2025-09-01,950\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	run(context.Background(), []string{"plan", "--today", "2025-09-02", "--out", filepath.Join(dir, "out"), dir}, nil, &out, &errs)
	if !strings.Contains(out.String(), "Cannot count back because the day of no show is known") || strings.Contains(out.String(), ".ics") {
		t.Errorf("%s%s", out.String(), errs.String())
	}
	if code := run(context.Background(), []string{"plan", "--today", "2025-09-02", "--also", "tomorrow", dir}, nil, &out, &errs); code != exitFailed || !strings.Contains(errs.String(), "2025-03-01") {
		t.Errorf("a show without a date: exit %d, %s", code, errs.String())
	}
}

// While a stop sign stands no verb says anything else of the flock: no plan, no calendar, no analysis.
func TestAStopSignSilencesPlansAndAnalyses(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "w.csv"), []byte("Ring,Date,Weight (g),Notes\nR1,2025-11-10,900,swollen head\nR2,2025-11-10,950,\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	calls := [][]string{{"plan", "--show", "2025-12-13", "--out", filepath.Join(dir, "out")}}
	for _, name := range analysisNames() {
		calls = append(calls, []string{"analyse", name}, []string{"analyse", name, "--format", "json"})
	}
	for _, call := range calls {
		_, out, errOut := keelmark(t, append(call, "--today", "2025-11-20", dir)...)
		if !strings.Contains(out, "swollen head") || strings.Contains(out, "next:") || strings.Contains(out, "R2") || strings.Contains(out, ".ics") {
			t.Errorf("%v:\n%s%s", call, out, errOut)
		}
	}
}
