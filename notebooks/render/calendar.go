package render

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"time"

	ics "github.com/arran4/golang-ical"

	"keelmark/ingest/record"
)

// Appointment is one entry of a calendar file: a whole day, or several.
type Appointment struct {
	Key         string // what stays the same when the plan is made again; unique within a calendar
	First, Last record.Day
	Summary     string
	Description string
}

// Calendar writes appointments as an iCalendar file that calendar programs import. The identifier of each follows from
// the owner and its key, and the sequence number from the day made, so that importing a later plan updates the entries
// of an earlier one instead of doubling them. Entries are marked free: they block no time.
//
// Source: RFC 5545, sections 3.6.1, 3.8.4.7 (UID), 3.8.7.4 (SEQUENCE), 3.8.2.2 (DTEND of a day is the day after).
func Calendar(w io.Writer, owner, title string, made record.Day, list []Appointment) error {
	c := ics.NewCalendarFor("Keelmark")
	c.SetMethod(ics.MethodPublish)
	c.SetXWRCalName(title)
	at := time.Unix(int64(made)*86400, 0).UTC()
	for _, a := range list {
		e := c.AddEvent(identifier(owner, a.Key))
		e.SetDtStampTime(at)
		e.SetSequence(max(0, int(made)))
		e.SetAllDayStartAt(time.Unix(int64(a.First)*86400, 0).UTC())
		e.SetAllDayEndAt(time.Unix(int64(max(a.First, a.Last)+1)*86400, 0).UTC())
		e.SetSummary(a.Summary)
		e.SetDescription(a.Description)
		e.SetTimeTransparency(ics.TransparencyTransparent)
	}
	return c.SerializeTo(w, ics.WithNewLineWindows)
}

// identifier is the UID of an appointment. It says nothing of the flock to whom the calendar is shown.
func identifier(owner, key string) string {
	sum := sha256.Sum256([]byte(owner + "\x00" + key))
	return hex.EncodeToString(sum[:16]) + "@keelmark.invalid"
}
