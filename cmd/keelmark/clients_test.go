//go:build clients

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"keelmark/datasets"
)

// client runs a program that is not ours. A missing program fails the test: it proves nothing by being skipped.
func client(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

func TestTheDemosReportInRealPrograms(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	if code, out, errOut := keelmark(t, "demo", dir); code != exitDone {
		t.Fatalf("exit %d\n%s%s", code, out, errOut)
	}
	pdf, html := filepath.Join(dir, "entry-report.pdf"), filepath.Join(dir, "entry-report.html")
	client(t, "qpdf", "--check", pdf)
	fonts := strings.Split(strings.TrimSpace(client(t, "pdffonts", pdf)), "\n")
	if len(fonts) < 3 {
		t.Fatalf("no fonts listed: %v", fonts)
	}
	for _, f := range fonts[2:] {
		if !regexp.MustCompile(`\byes\s+(yes|no)\s+yes\b`).MatchString(f) {
			t.Errorf("not embedded with its letters: %s", f)
		}
	}
	text := client(t, "pdftotext", "-layout", pdf, "-")
	truth, err := datasets.DemoTruth()
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range truth.Birds {
		if b.Left != "" {
			continue
		}
		if !strings.Contains(text, b.Ring) || !strings.Contains(text, b.Name) {
			t.Errorf("%s %s is not in the text of the PDF", b.Ring, b.Name)
		}
	}
	log := client(t, "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--enable-logging=stderr", "--v=0",
		"--user-data-dir="+t.TempDir(), "--screenshot="+filepath.Join(t.TempDir(), "page.png"), "file://"+html)
	for _, line := range strings.Split(log, "\n") {
		if strings.Contains(line, "CONSOLE") {
			t.Errorf("the page speaks on the console: %s", line)
		}
	}
}

func TestNastyNamesOnPaper(t *testing.T) {
	dir := t.TempDir()
	long := strings.Repeat("Anneliese", 34)[:300]
	var rows strings.Builder
	rows.WriteString("ring,name,date,weight (g),sex,breed,size,hatched\n")
	names := map[string]string{"R1": "Žofie", "R2": "Nguyệt", "R3": "Ærø", "R4": "Biene 🐝", "R5": long, "R6": "=1+1", "R7": "<b>Dot</b>", "R8": "", "R9": "שרה"}
	for i := 1; i <= 9; i++ {
		ring := "R" + string(rune('0'+i))
		for _, day := range []string{"2025-10-01", "2025-10-29", "2025-11-19"} {
			rows.WriteString(ring + "," + names[ring] + "," + day + ",2900,F,Sussex,large,2023-04-01\n")
		}
	}
	path := write(t, dir, "names.csv", rows.String())
	for _, paper := range []string{"A4", "Letter"} {
		out := filepath.Join(dir, paper)
		if code, said, errOut := keelmark(t, "report", "entry", "--today", "2025-11-20", "--country", "US", "--paper", paper, "--out", out, path); code == exitFailed || code == exitUsage {
			t.Fatalf("exit %d\n%s%s", code, said, errOut)
		}
		pdf := filepath.Join(out, "names-entry.pdf")
		client(t, "qpdf", "--check", pdf)
		size := map[string]string{"A4": "595", "Letter": "612"}[paper]
		if info := client(t, "pdfinfo", pdf); !strings.Contains(info, "Page size:       "+size) {
			t.Errorf("%s: %s", paper, info)
		}
		text := client(t, "pdftotext", "-layout", pdf, "-")
		for ring, name := range names {
			if !strings.Contains(text, ring) {
				t.Errorf("%s: ring %s is not on paper", paper, ring)
			}
			if (ring == "R1" || ring == "R2" || ring == "R3") && !strings.Contains(text, name) {
				t.Errorf("%s: name %s is not on paper", paper, name)
			}
		}
		page, err := os.ReadFile(filepath.Join(out, "names-entry.html"))
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"Biene 🐝", long, "&lt;b&gt;Dot&lt;/b&gt;", "שרה"} {
			if !strings.Contains(string(page), want) {
				t.Errorf("%s: %.40s is not whole in the HTML", paper, want)
			}
		}
	}
}
