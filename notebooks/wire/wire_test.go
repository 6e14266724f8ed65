package wire

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"
)

func signer(t testing.TB, key string) *Signer {
	t.Helper()
	s, err := NewSigner("hmac-sha256", key, "keeper")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestWhatIsBuiltCanBeParsed(t *testing.T) {
	for _, key := range []string{"", "a key"} {
		s := signer(t, key)
		parent := json.RawMessage(`{"msg_id": "1",  "odd": 1e400}`) // repeated as bytes, whatever it holds
		frames, err := s.Build([][]byte{[]byte("peer")}, "execute_reply", parent, map[string]any{"status": "ok", "html": "<b>&"})
		if err != nil {
			t.Fatal(err)
		}
		frames = append(frames, []byte("raw"))
		m, err := s.Parse(frames)
		if err != nil {
			t.Fatal(err)
		}
		if m.Header.Type != "execute_reply" || m.Header.Username != "keeper" || m.Header.Session != s.Session() || m.Header.Version != Version ||
			string(m.Parent) != string(parent) || m.ParentID() != "1" || string(m.Content) != `{"html":"<b>&","status":"ok"}` ||
			string(m.Routing[0]) != "peer" || string(m.Buffers[0]) != "raw" {
			t.Errorf("key %q: %+v", key, m)
		}
		if _, err := time.Parse(time.RFC3339Nano, m.Header.Date); err != nil {
			t.Errorf("date: %v", err)
		}
	}
}

// The example is RFC 4231, test case 2, which is HMAC of one text; here it comes in four frames, which are
// signed as one.
func TestTheSignatureIsHMACOverTheFramesInOrder(t *testing.T) {
	parts := [][]byte{[]byte("what do "), []byte("ya want "), []byte("for "), []byte("nothing?")}
	if got := string(signer(t, "Jefe").signature(parts)); got != "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843" {
		t.Errorf("signature %s", got)
	}
}

func TestWhatIsForgedOrBrokenIsRefused(t *testing.T) {
	s := signer(t, "right")
	build := func(s *Signer) [][]byte {
		frames, err := s.Build([][]byte{[]byte("me")}, "execute_request", nil, map[string]any{"code": "1"})
		if err != nil {
			t.Fatal(err)
		}
		return frames
	}
	changed := build(s)
	changed[6] = []byte(`{"code":"2"}`)
	unsigned := build(s)
	unsigned[2] = nil
	resign := func(header, content string) [][]byte {
		parts := [][]byte{[]byte(header), []byte("{}"), []byte("{}"), []byte(content)}
		return append([][]byte{[]byte("<IDS|MSG>"), s.signature(parts)}, parts...)
	}
	for what, c := range map[string]struct {
		frames [][]byte
		want   error
	}{
		"another key":  {build(signer(t, "wrong")), ErrSignature},
		"no key":       {build(signer(t, "")), ErrSignature},
		"changed":      {changed, ErrSignature},
		"unsigned":     {unsigned, ErrSignature},
		"nothing":      {nil, ErrDelimiter},
		"no delimiter": {[][]byte{[]byte("x")}, ErrDelimiter},
		"short":        {build(s)[:4], ErrShort},
		"bad header":   {resign("[", "{}"), ErrHeader},
		"no type":      {resign("{}", "{}"), ErrHeader},
	} {
		if _, err := s.Parse(c.frames); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", what, err)
		}
	}
	for _, content := range []string{"[]", "{", "null", ""} {
		if _, err := s.Parse(resign(`{"msg_type":"x"}`, content)); err == nil || !strings.Contains(err.Error(), "no JSON object") {
			t.Errorf("content %q: %v", content, err)
		}
	}
	if _, err := NewSigner("hmac-md5", "k", "u"); err == nil {
		t.Error("an unknown scheme passed")
	}
	if _, err := s.Build(nil, "x", nil, make(chan int)); err == nil {
		t.Error("content that is no JSON passed")
	}
}

func FuzzParse(f *testing.F) {
	s := signer(f, "key")
	frames, err := s.Build([][]byte{[]byte("me")}, "execute_request", nil, map[string]any{"code": "1"})
	if err != nil {
		f.Fatal(err)
	}
	var joined []string
	for _, frame := range frames {
		joined = append(joined, string(frame))
	}
	f.Add(strings.Join(joined, "\x00"), true)
	f.Add("<IDS|MSG>\x00\x00{\"msg_type\":\"a\"}\x00{}\x00{}\x00{}", false)
	open := signer(f, "")
	f.Fuzz(func(t *testing.T, text string, signed bool) {
		var frames [][]byte
		for _, part := range strings.Split(text, "\x00") {
			frames = append(frames, []byte(part))
		}
		by := open
		if signed {
			by = s
		}
		m, err := by.Parse(frames)
		if err != nil {
			return
		}
		var content struct{}
		if m.Header.Type == "" || m.Read(&content) != nil {
			t.Errorf("a message that cannot be read passed: %q", text)
		}
		m.ParentID()
		again, err := by.Build(m.Routing, m.Header.Type, m.Raw, m.Content)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := by.Parse(again); err != nil {
			t.Errorf("the answer to %q cannot be read: %v", text, err)
		}
	})
}
