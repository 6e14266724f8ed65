package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestRulesOfTheFlockFolder(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "book.csv", strings.ReplaceAll(sussex, "%s", ""))
	run := func() (page, said string, code int) {
		code, out, errOut := keelmark(t, "report", "entry", "--today", "2025-11-20", "--show", "2025-12-13", "--country", "US", "--out", filepath.Join(dir, "out"), dir)
		found, _ := filepath.Glob(filepath.Join(dir, "out", "*-entry.html"))
		if len(found) == 1 {
			data, err := os.ReadFile(found[0])
			if err != nil {
				t.Fatal(err)
			}
			page = string(data)
		}
		return page, out + errOut, code
	}
	if page, said, _ := run(); strings.Contains(page, "our own rule") || strings.Contains(page, "Muted by your own rules") || page == "" {
		t.Errorf("without rules the page tells of them\n%s", said)
	}
	write(t, dir, "rules.star", `
def rule(bird, claims):
    for c in claims:
        if c.topic == "weight":
            mute(c, "my shows have no scale")
    if bird.sex == "F" and bird.hatched and today - bird.hatched > 2 * 365:
        say("against", "I take no hen to a show after her second year.")
`)
	page, said, code := run()
	for _, want := range []string{"I take no hen to a show after her second year.", "Muted by your own rules", "my shows have no scale"} {
		if !strings.Contains(page, want) {
			t.Errorf("exit %d, no %q on the page\n%s", code, want, said)
		}
	}
	write(t, dir, "rules.star", "def rule(bird, claims):\n    say(\"against\", \"Cull her.\")\n")
	if _, said, code := run(); code != exitFailed || !strings.Contains(said, "rules.star, line 2") {
		t.Errorf("a verdict: exit %d\n%s", code, said)
	}
	// Beside a single file the rules bear its name.
	os.Remove(filepath.Join(dir, "rules.star"))
	write(t, dir, "book.rules.star", "def rule(bird, claims):\n    say(\"open\", \"Ask at the club.\")\n")
	_, out, errOut := keelmark(t, "analyse", "decision", "--today", "2025-11-20", "--country", "US", filepath.Join(dir, "book.csv"))
	if !strings.Contains(out, "Ask at the club.") {
		t.Errorf("%s%s", out, errOut)
	}
	if _, out, _ := keelmark(t, "help", "rules"); !strings.Contains(out, "def rule(bird, claims)") {
		t.Errorf("help rules: %s", out)
	}
}
