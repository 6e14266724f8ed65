package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"golang.org/x/net/html/charset"
)

// Why not encoding/xml: it takes several times longer over a sheet, reads on after some damage, and makes an
// allocation or more a cell. The scanner knows elements, attributes, text, CDATA and the five named entities; it
// demands that tags balance, so a part that was cut off is an error, and it refuses every declaration.

type token uint8

const (
	tokenEnd   token = iota // of the element that opened last
	tokenStart              // of an element: name, attrs
	tokenText               // a piece of text; long text comes in several
	tokenEOF
)

var (
	errDeclares  = errors.New("it declares a document type, which spreadsheets never do and which can hide a trap")
	errCutOff    = errors.New("it ends before its last tag is closed")
	errBalance   = errors.New("its tags do not balance")
	errMalformed = errors.New("it holds a malformed tag")
	errDeep      = errors.New("its tags are nested absurdly deep")
	errUTF8      = errors.New("it holds bytes that are no text")
	errLong      = errors.New("one of its texts is absurdly long")
)

const (
	scanBuffer = 64 << 10
	longestTag = 1 << 20
	deepest    = 64 // spreadsheets nest about 12 deep

	// longestText bounds the text of one cell in bytes. Spreadsheet programs end at 32,767 characters.
	longestText = 1 << 20
)

// scanner reads XML from front to back.
type scanner struct {
	r        io.Reader
	buf      []byte
	pos, end int
	eof      bool

	open  []byte // names of the open elements, run together
	marks []int  // where each of them begins in open

	closing bool // the element just reported was <empty/>; its end comes next
	inCDATA bool
	popped  bool // the root has been closed

	name  []byte // local name, of tokenStart
	attrs []byte // of tokenStart
	raw   []byte // of tokenText
	cdata bool   // raw holds no entities
}

// newScanner finds the encoding (UTF-8, UTF-16 by its mark, or as declared). size is about how many bytes come.
func newScanner(r io.Reader, size uint64) (*scanner, error) {
	s := &scanner{r: r, buf: make([]byte, min(size+64, scanBuffer))}
	if err := s.fill(); err != nil {
		return nil, err
	}
	head := s.buf[:s.end]
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		s.pos = 3
		return s, nil
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")):
		return s.recode("utf-16")
	}
	if bytes.HasPrefix(head, []byte("<?xml")) {
		decl, _, _ := bytes.Cut(head, []byte("?>"))
		for rest := decl[5:]; ; {
			var name, value []byte
			var err error
			if name, value, rest, err = cutAttr(rest); err != nil || name == nil {
				break
			}
			if string(name) == "encoding" && !bytes.EqualFold(value, []byte("utf-8")) && !bytes.EqualFold(value, []byte("us-ascii")) {
				return s.recode(string(value))
			}
		}
	}
	return s, nil
}

func (s *scanner) recode(label string) (*scanner, error) {
	if label == "utf-16" && s.buf[0] == 0xfe {
		label = "utf-16be"
	}
	r, err := charset.NewReaderLabel(label, io.MultiReader(bytes.NewReader(s.buf[:s.end]), s.r))
	if err != nil {
		return nil, fmt.Errorf("it is written in %q, which is not known here", label)
	}
	out := &scanner{r: r, buf: make([]byte, scanBuffer)}
	if err := out.fill(); err != nil {
		return nil, err
	}
	if bytes.HasPrefix(out.buf[:out.end], []byte("\xef\xbb\xbf")) {
		out.pos = 3
	}
	return out, nil
}

// fill reads more, keeping what is unread.
func (s *scanner) fill() error {
	if s.pos > 0 {
		s.end = copy(s.buf, s.buf[s.pos:s.end])
		s.pos = 0
	}
	if s.end == len(s.buf) {
		s.buf = append(s.buf, make([]byte, len(s.buf))...)
	}
	for tries := 0; ; tries++ {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		switch {
		case err == io.EOF:
			s.eof = true
			return nil
		case err != nil:
			return err
		case n > 0:
			return nil
		case tries > 100:
			return io.ErrNoProgress
		}
	}
}

func (s *scanner) depth() int { return len(s.marks) }

// next moves to the next token. Comments, processing instructions and white space outside the root are passed
// over.
func (s *scanner) next() (token, error) {
	if s.closing {
		s.closing = false
		s.pop()
		return tokenEnd, nil
	}
	for {
		rest := s.buf[s.pos:s.end]
		if len(rest) == 0 || (rest[0] == '<' && len(rest) < 9 && !s.eof) {
			if !s.eof {
				if err := s.fill(); err != nil {
					return 0, err
				}
				continue
			}
			if len(rest) == 0 {
				if s.depth() > 0 || !s.popped || s.inCDATA {
					return 0, errCutOff
				}
				return tokenEOF, nil
			}
		}
		if s.inCDATA {
			return s.nextCDATA(rest)
		}
		if rest[0] != '<' {
			t, ok, err := s.nextText(rest)
			if err != nil || ok {
				return t, err
			}
			continue
		}
		switch {
		case len(rest) > 1 && rest[1] == '?':
			if err := s.discard("?>"); err != nil {
				return 0, err
			}
		case bytes.HasPrefix(rest, []byte("<!--")):
			s.pos += 4
			if err := s.discard("-->"); err != nil {
				return 0, err
			}
		case bytes.HasPrefix(rest, []byte("<![CDATA[")):
			if s.depth() == 0 {
				return 0, errBalance
			}
			s.pos += 9
			s.inCDATA = true
		case len(rest) > 1 && rest[1] == '!':
			return 0, errDeclares
		default:
			return s.nextTag()
		}
	}
}

// nextText gives text up to the next tag, or as much of it as stands in the buffer; it never parts an entity.
func (s *scanner) nextText(rest []byte) (token, bool, error) {
	n := bytes.IndexByte(rest, '<')
	if n < 0 {
		if !s.eof && len(rest) < scanBuffer {
			return 0, false, s.fill()
		}
		n = len(rest)
		if amp := bytes.LastIndexByte(rest, '&'); !s.eof && amp > 0 && len(rest)-amp < 12 {
			n = amp
		}
	}
	s.pos += n
	if s.depth() == 0 {
		if len(bytes.TrimSpace(rest[:n])) > 0 {
			return 0, false, errBalance
		}
		return 0, false, nil
	}
	s.raw, s.cdata = rest[:n], false
	return tokenText, true, nil
}

func (s *scanner) nextCDATA(rest []byte) (token, error) {
	n := bytes.Index(rest, []byte("]]>"))
	switch {
	case n >= 0:
		s.inCDATA = false
		s.pos += n + 3
	case s.eof:
		return 0, errCutOff
	default:
		n = max(len(rest)-2, 0)
		s.pos += n
		if n == 0 {
			if err := s.fill(); err != nil {
				return 0, err
			}
		}
	}
	s.raw, s.cdata = rest[:n], true
	return tokenText, nil
}

// discard passes over everything up to and including the mark.
func (s *scanner) discard(mark string) error {
	for {
		rest := s.buf[s.pos:s.end]
		if n := bytes.Index(rest, []byte(mark)); n >= 0 {
			s.pos += n + len(mark)
			return nil
		}
		if s.eof {
			return errCutOff
		}
		s.pos += max(len(rest)-len(mark)+1, 0)
		if err := s.fill(); err != nil {
			return err
		}
	}
}

// nextTag reads <name attrs>, <name attrs/> or </name>.
func (s *scanner) nextTag() (token, error) {
	n := tagEnd(s.buf[s.pos:s.end])
	for n < 0 {
		switch {
		case s.eof:
			return 0, errCutOff
		case s.end-s.pos > longestTag:
			return 0, errMalformed
		}
		if err := s.fill(); err != nil {
			return 0, err
		}
		n = tagEnd(s.buf[s.pos:s.end])
	}
	tag := s.buf[s.pos+1 : s.pos+n]
	s.pos += n + 1
	if len(tag) == 0 {
		return 0, errMalformed
	}
	if tag[0] == '/' {
		name := tag[1:]
		for len(name) > 0 && name[len(name)-1] <= ' ' {
			name = name[:len(name)-1]
		}
		if s.depth() == 0 || !bytes.Equal(name, s.open[s.marks[s.depth()-1]:]) {
			return 0, errBalance
		}
		s.pop()
		return tokenEnd, nil
	}
	if tag[len(tag)-1] == '/' {
		s.closing = true
		tag = tag[:len(tag)-1]
	}
	split := 0
	for split < len(tag) && tag[split] > ' ' {
		split++
	}
	name := tag[:split]
	switch {
	case split == 0 || name[0] == '"' || name[0] == '=' || name[0] == '\'':
		return 0, errMalformed
	case s.popped && s.depth() == 0:
		return 0, errBalance // a second root
	case s.depth() >= deepest:
		return 0, errDeep
	}
	s.marks = append(s.marks, len(s.open))
	s.open = append(s.open, name...)
	s.name, s.attrs = name, tag[split:]
	if colon := bytes.IndexByte(name, ':'); colon >= 0 {
		s.name = name[colon+1:]
	}
	return tokenStart, nil
}

func (s *scanner) pop() {
	last := s.depth() - 1
	s.open, s.marks = s.open[:s.marks[last]], s.marks[:last]
	s.popped = true
}
