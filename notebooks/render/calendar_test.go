package render

import (
	"bytes"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

func sampleCalendar(t *testing.T, made record.Day) string {
	t.Helper()
	var b bytes.Buffer
	err := Calendar(&b, "Home", "Keelmark: Home, a show; with \\ marks", made, []Appointment{
		{Key: "bath 2025-12-13", First: 20430, Last: 20430, Summary: "bath: R1, Žofie; R2", Description: "Feathers need about three days to set.\nAny day from 2025-12-08 to 2025-12-10, " +
			strings.Repeat("Nguyệt und Žofie ", 12)},
		{Key: "apart 2025-12-13", First: 20436, Last: 20449, Summary: "keep apart"},
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestACalendarKeepsTheRulesOfRFC5545(t *testing.T) {
	text := sampleCalendar(t, 20417)
	if !strings.HasPrefix(text, "BEGIN:VCALENDAR\r\n") || !strings.HasSuffix(text, "END:VCALENDAR\r\n") || strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\n") {
		t.Error("lines do not end in CR LF (section 3.1)")
	}
	for _, line := range strings.Split(text, "\r\n") {
		if len(line) > 75 {
			t.Errorf("a line of %d octets, 75 allowed (section 3.1): %q", len(line), line)
		}
	}
	whole := strings.ReplaceAll(text, "\r\n ", "") // unfolded
	for _, want := range []string{"\r\nDTSTART;VALUE=DATE:20251208\r\n", "\r\nDTEND;VALUE=DATE:20251209\r\n", "\r\nDTEND;VALUE=DATE:20251228\r\n", `bath: R1\, Žofie\; R2`,
		`to set.\nAny day`, "\r\nSEQUENCE:20417\r\n", "\r\nVERSION:2.0\r\n", "\r\nPRODID:", `with \\ marks`} {
		if !strings.Contains(whole, want) {
			t.Errorf("%q is not in\n%s", want, whole)
		}
	}
}

func TestALaterPlanUpdatesTheEarlierOne(t *testing.T) {
	uids := func(text string) (out []string) {
		for _, line := range strings.Split(strings.ReplaceAll(text, "\r\n ", ""), "\r\n") {
			if strings.HasPrefix(line, "UID:") {
				out = append(out, line)
			}
		}
		return out
	}
	first, second := uids(sampleCalendar(t, 20417)), uids(sampleCalendar(t, 20420))
	if len(first) != 2 || first[0] != second[0] || first[1] != second[1] || first[0] == first[1] {
		t.Errorf("%v, then %v", first, second)
	}
	if one, again := sampleCalendar(t, 20417), sampleCalendar(t, 20417); one != again {
		t.Error("the same plan gives other bytes")
	}
	if strings.Contains(strings.Join(first, ""), "Home") {
		t.Error("an identifier names the flock")
	}
}
