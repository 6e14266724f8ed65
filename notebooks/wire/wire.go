// Package wire reads, checks, makes and signs messages of the notebook messaging protocol, version 5.3.
//
// A message is frames: who it is routed to, a delimiter, a signature, then header, parent header, metadata and
// content as JSON, then raw buffers. What a reply must repeat is kept as the bytes that came.
//
// Source: the public messaging specification of the notebook ecosystem, sections "General message format" and
// "The wire protocol".
package wire

import (
	"bytes"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"time"
)

// Version of the protocol that messages announce.
const Version = "5.3"

// delimiter stands between routing and message.
const delimiter = "<IDS|MSG>"

// Header says what a message is.
type Header struct {
	ID       string `json:"msg_id"`
	Session  string `json:"session"`
	Username string `json:"username"`
	Date     string `json:"date"`
	Type     string `json:"msg_type"`
	Version  string `json:"version"`
}

// Message is one message.
type Message struct {
	Routing  [][]byte // frames before the delimiter, as they came
	Header   Header
	Raw      json.RawMessage // the header as it came, which replies repeat
	Parent   json.RawMessage
	Metadata json.RawMessage
	Content  json.RawMessage
	Buffers  [][]byte
}

// ParentID is the id of the message that this one answers, or "".
func (m *Message) ParentID() string {
	var h Header
	if json.Unmarshal(m.Parent, &h) != nil {
		return ""
	}
	return h.ID
}

// Read reads the content into a struct. Fields that are not there keep their values.
func (m *Message) Read(into any) error {
	if err := json.Unmarshal(m.Content, into); err != nil {
		return fmt.Errorf("the content of %s cannot be read: %w", m.Header.Type, err)
	}
	return nil
}

// Signer checks and makes messages of one session. An empty key leaves them unsigned. It may be used by
// several goroutines.
type Signer struct {
	key      []byte
	hash     func() hash.Hash
	session  string
	username string
}

// NewSigner makes a signer by the scheme and key of a connection file.
func NewSigner(scheme, key, username string) (*Signer, error) {
	s := &Signer{key: []byte(key), session: NewID(), username: username}
	switch scheme {
	case "hmac-sha256", "":
		s.hash = sha256.New
	case "hmac-sha512":
		s.hash = sha512.New
	default:
		return nil, fmt.Errorf("the signature scheme %.40q is not known here; hmac-sha256 is", scheme)
	}
	return s, nil
}

// Session is the id of this end's session.
func (s *Signer) Session() string { return s.session }

// NewID makes an id that nobody else makes.
func NewID() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

func (s *Signer) signature(parts [][]byte) []byte {
	if len(s.key) == 0 {
		return nil
	}
	mac := hmac.New(s.hash, s.key)
	for _, p := range parts {
		mac.Write(p)
	}
	sum := mac.Sum(nil)
	return hex.AppendEncode(make([]byte, 0, 2*len(sum)), sum)
}

// Errors of Parse that do not depend on what the peer sent.
var (
	ErrDelimiter = errors.New("the message has no delimiter")
	ErrShort     = errors.New("the message has too few frames")
	ErrSignature = errors.New("the signature is not that of the connection file's key")
	ErrHeader    = errors.New("the header cannot be read")
)

// Parse reads the frames of a message and checks its signature.
func (s *Signer) Parse(frames [][]byte) (*Message, error) {
	at := 0
	for at < len(frames) && string(frames[at]) != delimiter {
		at++
	}
	if at == len(frames) {
		return nil, ErrDelimiter
	}
	rest := frames[at+1:]
	if len(rest) < 5 {
		return nil, ErrShort
	}
	parts := rest[1:5]
	if len(s.key) > 0 && !hmac.Equal(s.signature(parts), rest[0]) {
		return nil, ErrSignature
	}
	m := &Message{Routing: frames[:at:at], Raw: parts[0], Parent: parts[1], Metadata: parts[2], Content: parts[3], Buffers: rest[5:]}
	if err := json.Unmarshal(m.Raw, &m.Header); err != nil || m.Header.Type == "" {
		return nil, ErrHeader
	}
	for _, p := range parts[1:] {
		if p = bytes.TrimLeft(p, " \t\r\n"); len(p) == 0 || p[0] != '{' || !json.Valid(p) {
			return nil, fmt.Errorf("%s holds what is no JSON object", m.Header.Type)
		}
	}
	return m, nil
}

// Build makes the frames of a message of this session after those of its routing. Parent is the header of
// what it answers, as it came; nil where it answers nothing.
func (s *Signer) Build(routing [][]byte, kind string, parent json.RawMessage, content any) ([][]byte, error) {
	header, err := json.Marshal(Header{ID: NewID(), Session: s.session, Username: s.username,
		Date: time.Now().UTC().Format("2006-01-02T15:04:05.000000Z"), Type: kind, Version: Version})
	if err != nil {
		return nil, err
	}
	body, err := encode(content)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", kind, err)
	}
	if len(parent) == 0 {
		parent = json.RawMessage("{}")
	}
	parts := [][]byte{header, parent, []byte("{}"), body}
	frames := make([][]byte, 0, len(routing)+6)
	frames = append(frames, routing...)
	frames = append(frames, []byte(delimiter), s.signature(parts))
	return append(frames, parts...), nil
}

// encode writes JSON without the escapes that only pages of HTML need.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}
