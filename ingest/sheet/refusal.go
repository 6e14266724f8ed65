package sheet

import "fmt"

// Reason is the class of a refusal.
type Reason string

// The reasons.
const (
	EmptyFile      Reason = "empty_file"
	TooLarge       Reason = "too_large"
	TruncatedZip   Reason = "truncated_zip"
	DamagedZip     Reason = "damaged_zip"
	ZipBomb        Reason = "zip_bomb"
	DuplicateEntry Reason = "duplicate_entry"
	PathTraversal  Reason = "path_traversal"
	Encrypted      Reason = "encrypted"
	LegacyXLS      Reason = "legacy_xls"
	HTML           Reason = "not_xlsx_html"
	NotASheet      Reason = "not_a_sheet"
	XMLEntity      Reason = "xml_entity"
	DamagedXML     Reason = "damaged_xml"
	MissingPart    Reason = "missing_part"
)

// Refusal is the error of a file that cannot be read: what it is and what to do.
type Refusal struct {
	File   string
	Place  string // within the file: "sheet Flock A, row 14", "" for the whole
	Reason Reason
	What   string // goes on from the place: "is protected by a password"
	Cure   string // what to do: "open it, remove the password and save it again"
	Err    error  // what was found underneath, may be nil
}

// Error names the place, what is wrong and the cure.
func (r *Refusal) Error() string {
	place := r.File
	if r.Place != "" {
		place += ", " + r.Place
	}
	s := fmt.Sprintf("%s: %s", place, r.What)
	if r.Err != nil {
		s += fmt.Sprintf(" (%v)", r.Err)
	}
	if r.Cure != "" {
		s += "; " + r.Cure
	}
	return s
}

// Unwrap gives what was found underneath.
func (r *Refusal) Unwrap() error { return r.Err }

// Cures that several refusals share.
const (
	cureResave = "open it in a spreadsheet program and save it as .xlsx again"
	cureCopy   = "copy or download it again, or open it in a spreadsheet program and save it as .xlsx again"
)
