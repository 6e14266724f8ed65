package sheet

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// OpenFile reads the file at path. The book carries the base name.
func OpenFile(ctx context.Context, path string, lim Limits) (*Book, error) {
	name := filepath.Base(path)
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, &Refusal{File: name, Reason: NotASheet, What: "is a folder, not a file", Cure: "name the files in it"}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return Open(ctx, name, f, info.Size(), lim)
}

// Open reads a file of the given base name and size in bytes. What the file is, its content says; the name only
// helps to word what is noted. The error is a *Refusal where the file cannot be read for what it is, ctx.Err()
// where the context ended, else an error of data.
func Open(ctx context.Context, name string, data io.ReaderAt, size int64, lim Limits) (*Book, error) {
	r := &reading{ctx: ctx, file: name, data: data, size: size, limits: lim.orDefaults()}
	r.store.left = r.limits.Memory
	book, err := r.open()
	switch {
	case err == nil:
		return book, nil
	case ctx.Err() != nil:
		return nil, ctx.Err()
	}
	var refusal *Refusal
	if errors.As(err, &refusal) {
		refusal.File = name
		return nil, refusal
	}
	return nil, fmt.Errorf("%s: %w", name, err)
}

func (l Limits) orDefaults() Limits {
	d := defaults()
	or := func(v *int64, d int64) {
		if *v <= 0 {
			*v = d
		}
	}
	or(&l.File, d.File)
	or(&l.Growth, d.Growth)
	or(&l.Ratio, d.Ratio)
	or(&l.Part, d.Part)
	or(&l.Memory, d.Memory)
	if l.Entries <= 0 {
		l.Entries = d.Entries
	}
	return l
}

// reading is the work on one file.
type reading struct {
	ctx    context.Context
	file   string
	data   io.ReaderAt
	size   int64
	limits Limits
	store  store
	notes  []string
}

func (r *reading) note(format string, args ...any) {
	r.notes = append(r.notes, fmt.Sprintf(format, args...))
}

// guarded is a reader that stops when the context ends.
type guarded struct {
	ctx context.Context
	r   io.Reader
}

func (g guarded) Read(p []byte) (int, error) {
	if err := g.ctx.Err(); err != nil {
		return 0, err
	}
	return g.r.Read(p)
}

func (r *reading) all() io.Reader {
	return guarded{r.ctx, io.NewSectionReader(r.data, 0, r.size)}
}

func (r *reading) open() (*Book, error) {
	switch {
	case r.size == 0:
		return nil, &Refusal{Reason: EmptyFile, What: "is empty (0 bytes)", Cure: "save it again from the program that made it"}
	case r.size > r.limits.File:
		return nil, &Refusal{Reason: TooLarge, What: fmt.Sprintf("is larger than %d MB", r.limits.File>>20), Cure: "split it, one season a file"}
	}
	head := make([]byte, min(r.size, 4096))
	if _, err := r.data.ReadAt(head, 0); err != nil && err != io.EOF {
		return nil, err
	}
	sum := sha256.New()
	entries := 0
	if err := r.hash(sum, &entries); err != nil {
		return nil, err
	}
	grids, err := r.grids(head, entries)
	if err != nil {
		return nil, err
	}
	for i := range grids {
		grids[i].File = r.file
	}
	return &Book{File: r.file, Hash: hex.EncodeToString(sum.Sum(nil)), Notes: r.notes, Grids: grids}, nil
}

// hash sums the content and counts what look like directory records of a zip, before the directory is trusted.
func (r *reading) hash(sum io.Writer, records *int) error {
	buf, all := make([]byte, min(r.size+1, 256<<10)), r.all()
	for {
		n, err := all.Read(buf)
		sum.Write(buf[:n])
		*records += bytes.Count(buf[:n], []byte("PK\x01\x02"))
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

func (r *reading) grids(head []byte, zipRecords int) ([]Grid, error) {
	switch {
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		a, err := r.unpack(zipRecords)
		if err != nil {
			return nil, err
		}
		return a.grids()
	case bytes.HasPrefix(head, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")):
		return nil, r.compound()
	}
	if refusal := foreign(head); refusal != nil {
		return nil, refusal
	}
	return r.textGrids()
}

// foreign recognises what is neither a workbook nor text by its first bytes.
func foreign(head []byte) *Refusal {
	isPicture := func() bool {
		for _, magic := range []string{"\x89PNG\r\n", "\xff\xd8\xff", "GIF87a", "GIF89a", "II*\x00", "MM\x00*"} {
			if bytes.HasPrefix(head, []byte(magic)) {
				return true
			}
		}
		return len(head) > 12 && (bytes.Equal(head[8:12], []byte("WEBP")) || bytes.Equal(head[4:8], []byte("ftyp")) ||
			bytes.HasPrefix(head, []byte("BM")) && binary.LittleEndian.Uint32(head[6:]) == 0)
	}
	text := bytes.ToLower(bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n"))
	has := func(prefix string) bool { return bytes.HasPrefix(text, []byte(prefix)) }
	switch {
	case bytes.HasPrefix(head, []byte("%PDF")):
		return &Refusal{Reason: NotASheet, What: "is a PDF, which has no cells to read", Cure: "use the spreadsheet that it was printed from, or type its table into one"}
	case isPicture():
		return &Refusal{Reason: NotASheet, What: "is a picture or a film", Cure: "type the figures that it shows into a spreadsheet"}
	case bytes.HasPrefix(head, []byte("{\\rtf")):
		return &Refusal{Reason: NotASheet, What: "is a word-processor document", Cure: "copy its table into a spreadsheet and save that as .xlsx"}
	case bytes.HasPrefix(head, []byte("\x1f\x8b")), bytes.HasPrefix(head, []byte("7z\xbc\xaf")), bytes.HasPrefix(head, []byte("Rar!")):
		return &Refusal{Reason: NotASheet, What: "is a packed archive", Cure: "unpack it and name the spreadsheet inside"}
	case bytes.HasPrefix(head, []byte("SQLite format 3")):
		return &Refusal{Reason: NotASheet, What: "is a database", Cure: "export its tables as .csv or .xlsx"}
	case len(head) > 4 && head[0] == 9 && (head[1] == 0 || head[1] == 2 || head[1] == 4) && head[3] == 0:
		return &Refusal{Reason: LegacyXLS, What: "is a workbook in a very old format (.xls of the early 1990s)", Cure: "open it in a spreadsheet program and save it as .xlsx"}
	case has("<table"), has("<") && (bytes.Contains(text, []byte("<html")) || bytes.Contains(text, []byte("<!doctype html"))):
		return &Refusal{Reason: HTML, What: "is a web page, whatever its name says; some programs \"export to Excel\" in this way", Cure: "open it in a spreadsheet program and save it as .xlsx"}
	case has("<?xml") && bytes.Contains(text, []byte("urn:schemas-microsoft-com:office:spreadsheet")):
		return &Refusal{Reason: LegacyXLS, What: "is a workbook in the old XML format of 2003", Cure: "open it in a spreadsheet program and save it as .xlsx"}
	case has("<?xml"):
		return &Refusal{Reason: NotASheet, What: "is an XML file, not a spreadsheet", Cure: "open it in the program that made it and save it as .xlsx or .csv"}
	}
	return nil
}

// compound looks at the names in an OLE container: old .xls, protected .xlsx or another old document. A
// directory record is 128 bytes: a UTF-16 name, its length in bytes at 64, the kind of object at 66.
// Source: the compound file format as published by its vendor, [MS-CFB] 2.6.1.
func (r *reading) compound() error {
	names := map[string]bool{}
	all, buf := r.all(), make([]byte, 64<<10)
	for {
		n, err := io.ReadFull(all, buf)
		for at := 0; at+128 <= n; at += 128 {
			record := buf[at : at+128]
			size := int(binary.LittleEndian.Uint16(record[64:]))
			if size < 4 || size > 64 || record[66] != 1 && record[66] != 2 || record[size-2] != 0 {
				continue
			}
			var name strings.Builder
			for i := 0; i < size-2; i += 2 {
				name.WriteByte(record[i])
			}
			names[name.String()] = true
		}
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			break
		}
		if err != nil {
			return err
		}
	}
	switch {
	case names["EncryptedPackage"], names["EncryptionInfo"]:
		return &Refusal{Reason: Encrypted, What: "is protected by a password", Cure: "open it, remove the password and save it again"}
	case names["Workbook"], names["Book"]:
		return &Refusal{Reason: LegacyXLS, What: "is a workbook in the old .xls format", Cure: "open it in a spreadsheet program and save it as .xlsx"}
	}
	return &Refusal{Reason: NotASheet, What: "is an old office document, but no workbook", Cure: "copy its table into a spreadsheet and save that as .xlsx"}
}
