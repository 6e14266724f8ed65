package zmtp

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

func listen(t testing.TB) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func connect(t testing.TB, l net.Listener, kind, identity string) *Conn {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	c, err := dial(ctx, l.Addr().Network(), l.Addr().String(), kind, identity)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func receive(t testing.TB, c *Conn) Message {
	t.Helper()
	c.conn.SetReadDeadline(time.Now().Add(5 * time.Second))
	m, err := c.Receive()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// echo is a router that sends back what it gets.
func echo(t testing.TB, l net.Listener, limits Limits) *Router {
	t.Helper()
	var r *Router
	ready := make(chan struct{})
	r = NewRouter(l, limits, func(identity string, m Message) {
		<-ready
		r.Send(identity, m)
	})
	close(ready)
	t.Cleanup(func() { r.Close(0) })
	return r
}

func TestMessagesOfEverySizeGoThere(t *testing.T) {
	for _, network := range []string{"tcp", "unix"} {
		l := listen(t)
		if network == "unix" {
			l.Close()
			var err error
			if l, err = net.Listen("unix", filepath.Join(t.TempDir(), "s")); err != nil {
				t.Fatal(err)
			}
		}
		echo(t, l, Limits{})
		c := connect(t, l, dealer, "me")
		for _, sizes := range [][]int{{0}, {1, 0, 2}, {255}, {256}, {packed}, {packed + 1, 3}, {shortest, shortest + 1}, {3 << 20, 0, 5}} {
			var m Message
			for i, n := range sizes {
				m = append(m, bytes.Repeat([]byte{byte('a' + i)}, n))
			}
			sent := make(chan error, 1)
			go func() { sent <- c.Send(m) }()
			got := receive(t, c)
			if err := <-sent; err != nil || !slices.EqualFunc(got, m, bytes.Equal) {
				t.Errorf("%s: a message of %v came back with %d frames (%v)", network, sizes, len(got), err)
			}
		}
	}
}

func TestTheNewestPeerOfAnIdentityIsMeant(t *testing.T) {
	l := listen(t)
	got := make(chan string, 10)
	r := NewRouter(l, Limits{}, func(identity string, m Message) { got <- identity })
	defer r.Close(0)
	first := connect(t, l, dealer, "me")
	first.Send(Message{[]byte("x")})
	<-got
	second := connect(t, l, dealer, "me")
	second.Send(Message{[]byte("y")})
	if id := <-got; id != "me" {
		t.Errorf("identity %q", id)
	}
	if !r.Send("me", Message{[]byte("hello")}) {
		t.Error("nobody there")
	}
	if m := receive(t, second); string(m[0]) != "hello" {
		t.Errorf("got %q", m)
	}
	first.conn.SetReadDeadline(time.Now().Add(5 * time.Second))
	if _, err := first.Receive(); err == nil {
		t.Error("the older one was not cut off")
	}
	nameless := connect(t, l, dealer, "")
	nameless.Send(Message{[]byte("z")})
	if id := <-got; len(id) != 9 || id[0] != 0 {
		t.Errorf("a peer without a name is %q", id)
	}
	if r.Send("nobody", Message{nil}) {
		t.Error("sent to nobody")
	}
}

func TestSubscriptions(t *testing.T) {
	l := listen(t)
	p := NewPublisher(l, Limits{})
	defer p.Close(0)
	select {
	case <-p.Subscribed():
		t.Fatal("subscribed before anybody was there")
	default:
	}
	c := connect(t, l, sub, "")
	c.Send(Message{[]byte("\x01a")})
	<-p.Subscribed()
	p.Send(Message{[]byte("b1")})
	p.Send(Message{[]byte("a1"), []byte("body")})
	if m := receive(t, c); string(m[0]) != "a1" || string(m[1]) != "body" {
		t.Errorf("got %q", m)
	}
	c.Send(Message{[]byte("\x00a")})
	c.Send(Message{[]byte("\x01c")})
	for {
		p.Send(Message{[]byte("a2")})
		p.Send(Message{[]byte("c")})
		if m := receive(t, c); string(m[0]) == "c" {
			break
		}
	}
	p.Send(Message{[]byte("a3")})
	p.Send(Message{[]byte("c-end")})
	for {
		m := receive(t, c)
		if string(m[0]) == "a3" {
			t.Error("a topic that is no longer wanted came")
		}
		if string(m[0]) == "c-end" {
			break
		}
	}
}

// A subscriber that stops reading holds nobody up, and is cut off once too much waits for it.
func TestAStalledSubscriberIsCutOff(t *testing.T) {
	l := listen(t)
	p := NewPublisher(l, Limits{Queue: 8 << 20})
	defer p.Close(0)
	stalled, reading := connect(t, l, sub, ""), connect(t, l, sub, "")
	for _, c := range []*Conn{stalled, reading} {
		c.Send(Message{[]byte("\x01")})
	}
	for len(p.subscribers()) < 2 {
		time.Sleep(time.Millisecond)
	}
	body := make([]byte, 1<<20)
	for i := range 40 {
		p.Send(Message{[]byte(fmt.Sprint(i)), body})
		if m := receive(t, reading); string(m[0]) != fmt.Sprint(i) {
			t.Fatalf("message %d is %q", i, m[0])
		}
	}
	for len(p.subscribers()) > 1 {
		time.Sleep(time.Millisecond)
	}
}

func (p *Publisher) subscribers() []*peer {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	var out []*peer
	for s := range p.topics {
		out = append(out, s)
	}
	return out
}

func TestASilentPeerHoldsNobodyUp(t *testing.T) {
	l := listen(t)
	echo(t, l, Limits{Handshake: 50 * time.Millisecond})
	silent, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	c := connect(t, l, dealer, "me")
	c.Send(Message{[]byte("x")})
	receive(t, c)
	silent.SetReadDeadline(time.Now().Add(5 * time.Second))
	if _, err := io.Copy(io.Discard, silent); err != nil {
		t.Errorf("the silent peer was not given up: %v", err)
	}
}

// What does not speak the protocol is cut off, and the socket goes on.
func TestStrangersAreCutOff(t *testing.T) {
	l := listen(t)
	echo(t, l, Limits{Message: 1 << 20})
	good := greeting()
	changed := func(at int, to string) []byte {
		g := bytes.Clone(good)
		copy(g[at:], to)
		return g
	}
	ready := readiness(dealer, "x")
	begin := append(bytes.Clone(good), ready...)
	for what, sent := range map[string][]byte{
		"a browser":              []byte("GET / HTTP/1.1\r\nHost: localhost\r\n\r\n" + strings.Repeat("x", 64)),
		"version 2":              changed(10, "\x01"),
		"another mechanism":      changed(12, "CURVE"),
		"a publisher":            append(bytes.Clone(good), readiness(pub, "")...),
		"no READY":               append(bytes.Clone(good), 4, 3, 2, 'A', 'B'),
		"an empty command":       append(bytes.Clone(good), 4, 0),
		"a message first":        append(bytes.Clone(good), 0, 1, 'x'),
		"a huge READY":           append(bytes.Clone(good), 6, 0, 0, 0, 0, 0xff, 0, 0, 0),
		"a long identity":        append(bytes.Clone(good), readiness(dealer, strings.Repeat("x", 256))...),
		"unknown flags":          append(bytes.Clone(begin), 0x80, 1, 'x'),
		"a huge frame":           append(bytes.Clone(begin), 2, 0, 0, 1, 0, 0, 0, 0, 0),
		"the largest of frames":  append(bytes.Clone(begin), 2, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff),
		"more frames than allow": append(bytes.Clone(begin), bytes.Repeat([]byte{1, 0}, 2<<20)...),
	} {
		c, err := net.Dial("tcp", l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		go func() { _, _ = c.Write(sent) }()
		c.SetReadDeadline(time.Now().Add(5 * time.Second))
		if _, err := io.Copy(io.Discard, c); err != nil && errors.Is(err, os.ErrDeadlineExceeded) {
			t.Errorf("%s was not cut off: %v", what, err)
		}
		c.Close()
	}
	c := connect(t, l, dealer, "me")
	c.Send(Message{[]byte("x")})
	receive(t, c)
}

// What was sent before the end arrives, and closing leaves nothing running.
func TestCloseLingersAndLeavesNothing(t *testing.T) {
	before := runtime.NumGoroutine()
	for range 20 {
		l := listen(t)
		joined := make(chan struct{}, 1)
		r := NewRouter(l, Limits{}, func(string, Message) { joined <- struct{}{} })
		c := connect(t, l, dealer, "me")
		c.Send(Message{[]byte("x")})
		<-joined
		body := make([]byte, 4<<20)
		r.Send("me", Message{body})
		closed := make(chan struct{})
		go func() { r.Close(5 * time.Second); close(closed) }()
		if m := receive(t, c); m.Size() != len(body) {
			t.Fatalf("%d bytes came", m.Size())
		}
		<-closed
		c.Close()
	}
	for range 500 {
		if runtime.NumGoroutine() <= before+1 {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}

func TestTheHeartbeatEchoes(t *testing.T) {
	l := listen(t)
	h := NewHeartbeat(l, Limits{})
	defer h.Close()
	c := connect(t, l, req, "")
	c.Send(Message{nil, []byte("ping")})
	if m := receive(t, c); len(m) != 2 || string(m[1]) != "ping" {
		t.Errorf("got %q", m)
	}
}

// FuzzRead reads whatever bytes as messages. What can be read is the same when it is written and read again.
func FuzzRead(f *testing.F) {
	seed := func(m Message) []byte {
		var b bytes.Buffer
		buffers := encode(m)
		_, _ = buffers.WriteTo(&b)
		return b.Bytes()
	}
	f.Add(seed(Message{[]byte("a"), nil, bytes.Repeat([]byte("b"), 300)}))
	f.Add(append([]byte{4, 3, 2, 'A', 'B'}, seed(Message{[]byte("after a command")})...))
	f.Add([]byte{2, 0, 0, 0, 0, 0, 1, 0, 0, 'x'})
	f.Add(readiness(dealer, "identity"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r := bufio.NewReader(bytes.NewReader(data))
		for {
			m, err := readMessage(r, 1<<20)
			if err != nil {
				break
			}
			again, err := readMessage(bufio.NewReader(bytes.NewReader(seed(m))), 1<<21)
			if err != nil || !slices.EqualFunc(m, again, bytes.Equal) {
				t.Fatalf("%q became %q (%v)", m, again, err)
			}
		}
		_, _ = parseReady(data)
		_ = readGreeting(bytes.NewReader(data))
	})
}
