package sheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// archive is a zip that has been proved sound: every entry was read to its end and its checksum agreed.
type archive struct {
	*reading
	parts map[string]*zip.File // by lower-case name with forward slashes
}

// unpack proves the zip. records is how many directory records the raw bytes seem to hold.
func (r *reading) unpack(records int) (*archive, error) {
	// A zip may hold others unpacked within it, whose records are counted too; hence the double.
	if records > 2*r.limits.Entries {
		return nil, &Refusal{Reason: ZipBomb, What: fmt.Sprintf("packs more than %d files, as no spreadsheet does", r.limits.Entries), Cure: cureResave}
	}
	z, err := zip.NewReader(guardedAt{r}, r.size)
	if err != nil {
		if r.ctx.Err() != nil {
			return nil, err
		}
		return nil, &Refusal{Reason: TruncatedZip, What: "is cut off: its end, where a workbook lists its parts, is missing", Cure: cureCopy}
	}
	a := &archive{reading: r, parts: make(map[string]*zip.File, len(z.File))}
	buf := make([]byte, min(r.size+64, 64<<10)) // read in pieces of this size
	room := r.limits.Growth + r.size
	for _, f := range z.File {
		name, err := a.entryName(f)
		if err != nil {
			return nil, err
		}
		if strings.HasSuffix(name, "/") {
			continue
		}
		key := strings.ToLower(name)
		if a.parts[key] != nil {
			return nil, &Refusal{Reason: DuplicateEntry, What: fmt.Sprintf("holds the part %q twice, so it cannot be told which is meant", name), Cure: cureResave}
		}
		if len(a.parts) >= r.limits.Entries {
			return nil, &Refusal{Reason: ZipBomb, What: fmt.Sprintf("packs more than %d files, as no spreadsheet does", r.limits.Entries), Cure: cureResave}
		}
		a.parts[key] = f
		if err := a.prove(f, buf, &room); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// entryName checks the name of an entry. Nothing is ever written under it; but no spreadsheet program writes
// names that climb out of the folder, so whoever made the file meant harm to some reader.
func (a *archive) entryName(f *zip.File) (string, error) {
	name := strings.ReplaceAll(f.Name, `\`, "/")
	if len(name) > 1024 || strings.ContainsRune(name, 0) {
		return "", &Refusal{Reason: PathTraversal, What: "holds an entry with an absurd name, as no spreadsheet does", Cure: cureResave}
	}
	climbs := strings.HasPrefix(name, "/") || len(name) > 1 && name[1] == ':'
	for _, step := range strings.Split(name, "/") {
		climbs = climbs || step == ".."
	}
	if climbs {
		return "", &Refusal{Reason: PathTraversal, What: fmt.Sprintf("holds an entry named %q, which points outside the file; no spreadsheet program writes this and nothing of it was unpacked", f.Name),
			Cure: "do not trust it; ask whoever sent it for a copy saved from a spreadsheet program"}
	}
	return name, nil
}

// prove reads one entry to its end. room is what all entries may still unpack to.
func (a *archive) prove(f *zip.File, buf []byte, room *int64) error {
	if f.Flags&1 != 0 {
		return &Refusal{Reason: Encrypted, What: "is a zip protected by a password", Cure: "unpack it, or save the spreadsheet without a password"}
	}
	damaged := func(err error) error {
		if a.ctx.Err() != nil {
			return err
		}
		if errors.Is(err, zip.ErrAlgorithm) {
			return &Refusal{Reason: DamagedZip, Place: f.Name, What: "is packed in an unusual way", Cure: cureResave}
		}
		return &Refusal{Reason: DamagedZip, Place: f.Name, What: "is damaged", Cure: cureCopy, Err: err}
	}
	entry, err := f.Open()
	if err != nil {
		return damaged(err)
	}
	defer entry.Close()
	var size int64
	for {
		n, err := entry.Read(buf)
		size += int64(n)
		*room -= int64(n)
		if *room < 0 || size > 4<<20 && size > a.limits.Ratio*int64(f.CompressedSize64) {
			return &Refusal{Reason: ZipBomb, Place: f.Name, What: fmt.Sprintf("unpacks to %d MB or more, as traps do (a \"zip bomb\") and weights do not", size>>20),
				Cure: "if it is your own, delete the empty rows and columns below and beside the table and save it again"}
		}
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return damaged(err)
		}
	}
}

// guardedAt lets the zip reader stop when the context ends.
type guardedAt struct{ *reading }

func (g guardedAt) ReadAt(p []byte, off int64) (int, error) {
	if err := g.ctx.Err(); err != nil {
		return 0, err
	}
	return g.data.ReadAt(p, off)
}

// part opens a part by its name within the archive; nil where there is none.
func (a *archive) part(name string) (io.ReadCloser, error) {
	f := a.parts[strings.ToLower(name)]
	if f == nil {
		return nil, nil
	}
	return f.Open()
}

// small reads one of the small parts whole; nil where there is none.
func (a *archive) small(name string) ([]byte, error) {
	f := a.parts[strings.ToLower(name)]
	if f == nil {
		return nil, nil
	}
	if f.UncompressedSize64 > uint64(a.limits.Part) { // proved true
		return nil, &Refusal{Reason: TooLarge, Place: f.Name, What: fmt.Sprintf("is larger than %d MB, which no sheet of weights needs", a.limits.Part>>20), Cure: "copy the tables into a new workbook and save that"}
	}
	entry, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer entry.Close()
	return io.ReadAll(entry)
}

// scan runs fn over the XML of a part, and refuses the part where fn or the scanner fails. place is how a
// sentence names the part.
func (a *archive) scan(name, place string, fn func(*scanner) error) error {
	entry, err := a.part(name)
	if err != nil {
		return err
	}
	if entry == nil {
		return lost(name)
	}
	defer entry.Close()
	s, err := newScanner(guarded{a.ctx, entry}, a.parts[strings.ToLower(name)].UncompressedSize64)
	if err == nil {
		err = fn(s)
	}
	return a.refuseXML(place, err)
}

// lost is the refusal of a workbook without a part that another part points to.
func lost(name string) *Refusal {
	return &Refusal{Reason: MissingPart, What: fmt.Sprintf("has lost a part: %s is not in the file", path.Base(name)), Cure: cureCopy}
}

func (a *archive) refuseXML(place string, err error) error {
	var refusal *Refusal
	switch {
	case err == nil, a.ctx.Err() != nil:
		return err
	case errors.As(err, &refusal):
		if refusal.Place == "" {
			refusal.Place = place
		}
		return refusal
	case errors.Is(err, errFull):
		return &Refusal{Reason: TooLarge, Place: place, What: "holds more cells than can be read at once", Cure: "split the workbook, one season a file, and delete empty rows and columns that carry formatting only"}
	case errors.Is(err, errDeclares):
		return &Refusal{Reason: XMLEntity, Place: place, What: "declares its own document type or entities, which spreadsheets never do and traps do", Cure: cureResave}
	}
	return &Refusal{Reason: DamagedXML, Place: place, What: "is damaged inside", Cure: cureCopy, Err: err}
}

// grids finds which kind of workbook the archive is.
func (a *archive) grids() ([]Grid, error) {
	has := func(name string) bool { return a.parts[name] != nil }
	mimetype, err := a.small("mimetype")
	if err != nil {
		return nil, err
	}
	holds := ""
	for _, name := range []string{".xlsx", ".xls", ".ods", ".csv", ".xlsm"} {
		for key := range a.parts {
			if strings.HasSuffix(key, name) {
				holds = name
			}
		}
	}
	kind := strings.TrimSpace(string(mimetype))
	switch {
	case strings.HasPrefix(kind, "application/vnd.oasis.opendocument.spreadsheet"):
		return a.odsGrids()
	case strings.HasPrefix(kind, "application/vnd.oasis.opendocument"):
		return nil, &Refusal{Reason: NotASheet, What: "is an office document, but no spreadsheet", Cure: "copy its table into a spreadsheet and save that as .ods or .xlsx"}
	case has("xl/workbook.bin"):
		return nil, &Refusal{Reason: NotASheet, What: "is a workbook in the binary format .xlsb", Cure: "open it in a spreadsheet program and save it as .xlsx"}
	case has("word/document.xml"), has("ppt/presentation.xml"):
		return nil, &Refusal{Reason: NotASheet, What: "is an office document, but no spreadsheet", Cure: "copy its table into a spreadsheet and save that as .xlsx"}
	case has("index/document.iwa"), has("index.zip"):
		return nil, &Refusal{Reason: NotASheet, What: "is in a format that only its own program reads", Cure: "export it from there as .xlsx or .csv"}
	case has("[content_types].xml"), has("_rels/.rels"), has("xl/workbook.xml"):
		return a.xlsxGrids()
	case has("content.xml"):
		return a.odsGrids()
	case holds != "":
		return nil, &Refusal{Reason: NotASheet, What: fmt.Sprintf("is a zip archive with a %s file in it", holds), Cure: "unpack it and name the file inside"}
	}
	return nil, &Refusal{Reason: NotASheet, What: "is a zip archive without any spreadsheet in it", Cure: "name the spreadsheet itself: .xlsx, .ods or .csv"}
}

// resolve gives the name of the part that a relationship of the part base points to.
func resolve(base, target string) string {
	target = strings.ReplaceAll(target, `\`, "/")
	if strings.HasPrefix(target, "/") {
		return strings.TrimPrefix(path.Clean(target), "/")
	}
	return strings.TrimPrefix(path.Join("/", path.Dir(base), target), "/")
}

// relsOf names the part that holds the relationships of a part.
func relsOf(part string) string {
	return path.Join(path.Dir(part), "_rels", path.Base(part)+".rels")
}

// relation is one pointer from a part to another. Pointers out of the file are dropped: they are never followed.
type relation struct{ id, kind, target string }

// relations reads the pointers of a part; none where it has no list of them.
func (a *archive) relations(part string) ([]relation, error) {
	name := relsOf(part)
	if a.parts[strings.ToLower(name)] == nil {
		return nil, nil
	}
	var out []relation
	err := a.scan(name, name, func(s *scanner) error {
		for {
			t, err := s.next()
			switch {
			case err != nil || t == tokenEOF:
				return err
			case t != tokenStart || string(s.name) != "Relationship":
				continue
			}
			var got [4][]byte
			for i, attr := range []string{"Id", "Type", "Target", "TargetMode"} {
				if got[i], err = s.attr(attr); err != nil {
					return err
				}
			}
			if bytes.EqualFold(got[3], []byte("External")) {
				continue
			}
			// The last step of the type is the same in the transitional and the strict standard.
			out = append(out, relation{string(got[0]), path.Base(string(got[1])), resolve(part, string(got[2]))})
		}
	})
	return out, err
}
