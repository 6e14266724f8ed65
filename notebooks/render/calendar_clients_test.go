//go:build clients

package render

import (
	"strings"
	"testing"
)

// readCalendar reads a calendar file with a library that did not write it, and prints what it understood.
const readCalendar = `
import sys, icalendar
calendar = icalendar.Calendar.from_ical(open(sys.argv[1], "rb").read())
assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
for e in calendar.walk("VEVENT"):
    assert not e.errors, e.errors
    assert e["UID"] and e["DTSTAMP"].dt
    print(e["DTSTART"].dt, e["DTEND"].dt, e["SEQUENCE"], e["SUMMARY"])
`

func TestACalendarIsReadByAnotherLibrary(t *testing.T) {
	file := save(t, "plan.ics", []byte(sampleCalendar(t, 20417)))
	got := client(t, "/usr/bin/python3", "-c", readCalendar, file)
	want := "2025-12-08 2025-12-09 20417 bath: R1, Žofie; R2\n2025-12-14 2025-12-28 20417 keep apart\n"
	if strings.TrimSpace(got) != strings.TrimSpace(want) {
		t.Errorf("python3-icalendar understood\n%s\nwant\n%s", got, want)
	}
}
