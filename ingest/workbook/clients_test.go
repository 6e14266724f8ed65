//go:build clients

package workbook_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// These tests save the blank workbook in the spreadsheet program that costs nothing. They fail where it is
// missing: run them with `go test -tags clients ./ingest/workbook/`.

// office converts a file in a profile of its own, so that no open window and no habit of the user plays a part.
func office(t *testing.T, path, to string) string {
	t.Helper()
	program, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("soffice is not installed; this test needs Debian's libreoffice-calc")
	}
	profile, out := t.TempDir(), t.TempDir()
	cmd := exec.Command(program, "-env:UserInstallation=file://"+filepath.ToSlash(profile), "--headless", "--convert-to", to, "--outdir", out, path)
	var log bytes.Buffer
	cmd.Stdout, cmd.Stderr = &log, &log
	if err := cmd.Run(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, log.String())
	}
	saved := filepath.Join(out, strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))+"."+to)
	if _, err := os.Stat(saved); err != nil {
		t.Fatalf("soffice wrote no %s: %s", to, log.String())
	}
	return saved
}

func TestAFilledBlankSurvivesAnotherProgram(t *testing.T) {
	for _, s := range seasons(t) {
		path := filepath.Join(t.TempDir(), "season.xlsx")
		if err := os.WriteFile(path, s.fill(t), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, format := range []string{"xlsx", "ods"} {
			t.Run(s.name+"/"+format, func(t *testing.T) {
				saved := office(t, path, format)
				s.check(t, s.load(t, saved))
				if format == "xlsx" {
					keepsItsChecks(t, saved)
				}
			})
		}
	}
}

// keepsItsChecks looks for drop-downs, marks and names in a workbook that another program saved.
func keepsItsChecks(t *testing.T, path string) {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var names []string
	repeated := 0
	for _, n := range f.GetDefinedName() {
		if names = append(names, n.Name); strings.Contains(n.Name, "Print_Titles") && strings.HasSuffix(n.RefersTo, "!$1:$1") {
			repeated++
		}
	}
	if repeated != 6 {
		t.Errorf("%d sheets repeat their headings on every page, want 6", repeated)
	}
	for _, want := range []string{"Rings", "HatchDates", "RingList"} {
		if !slices.Contains(names, want) {
			t.Errorf("the name %s is lost; there are %q", want, names)
		}
	}
	for _, sheet := range []string{"Birds", "Weights", "Checks", "Treatments", "Eggs", "Moves and losses"} {
		rules, err := f.GetDataValidations(sheet)
		if err != nil {
			t.Fatal(err)
		}
		lists := 0
		for _, r := range rules {
			if r.Type == "list" {
				lists++
			}
		}
		marks, err := f.GetConditionalFormats(sheet)
		if err != nil {
			t.Fatal(err)
		}
		if lists < 2 && sheet != "Weights" || lists < 1 || len(marks) < 2 {
			t.Errorf("%s kept %d drop-downs and %d ranges with marks", sheet, lists, len(marks))
		}
	}
	// What is kept in view is not looked at: without a window the program keeps no view of any file.
}

// A printed blank is one page a sheet.
func TestABlankPrintsOnePageASheet(t *testing.T) {
	for _, s := range seasons(t) {
		s.lines = nil
		path := filepath.Join(t.TempDir(), "blank.xlsx")
		if err := os.WriteFile(path, s.fill(t), 0o600); err != nil {
			t.Fatal(err)
		}
		printed, err := os.ReadFile(office(t, path, "pdf"))
		if err != nil {
			t.Fatal(err)
		}
		// each page of a PDF is an object of this type (ISO 32000-1, table 30)
		pages := bytes.Count(printed, []byte("/Type/Page/")) + bytes.Count(printed, []byte("/Type /Page\n"))
		if pages != 8 {
			t.Errorf("%s prints on %d pages, want 8", s.name, pages)
		}
	}
}
