// Package zmtp speaks ZMTP 3.0 with the NULL mechanism, as far as a notebook kernel needs it: the sockets
// ROUTER, PUB and a heartbeat that listen, and a plain client of them.
//
// No peer can hold up another. Each has a reader and a writer of its own; what is sent is put on the peer's
// queue, and a peer that leaves more than the limit unread is cut off. A handshake that does not come to its
// end is given up after a while.
//
// Source: the public specification 23/ZMTP, version 3.0.
package zmtp

import (
	"bufio"
	"errors"
	"net"
	"sync"
	"time"
)

// Limits bound what a peer may cost. Zero means the default.
type Limits struct {
	Handshake time.Duration // until a new peer is ready; 10 s
	Message   int           // bytes of one message that is received; 256 MiB
	Queue     int           // bytes that may wait for one peer beside one message; 256 MiB
}

func (l Limits) orDefault() Limits {
	if l.Handshake == 0 {
		l.Handshake = 10 * time.Second
	}
	if l.Message == 0 {
		l.Message = 256 << 20
	}
	if l.Queue == 0 {
		l.Queue = 256 << 20
	}
	return l
}

// socket is what the listening sockets share: who is connected.
type socket struct {
	listener net.Listener
	kind     string
	limits   Limits

	// joined names a peer once its handshake is over, and received is called with each of its messages, from
	// its own reader.
	joined   func(p *peer, identity string)
	received func(p *peer, m Message)
	left     func(p *peer)

	mutex  sync.Mutex
	closed bool
	conns  map[net.Conn]*peer // nil while shaking hands
	busy   sync.WaitGroup
}

// begin listens until the socket is closed.
func (s *socket) begin() {
	s.limits = s.limits.orDefault()
	s.conns = map[net.Conn]*peer{}
	s.busy.Add(1)
	go s.accept()
}

func (s *socket) accept() {
	defer s.busy.Done()
	for {
		c, err := s.listener.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil { // no descriptors left, as a rule: others may leave
			time.Sleep(20 * time.Millisecond)
			continue
		}
		s.mutex.Lock()
		if s.closed {
			s.mutex.Unlock()
			c.Close()
			return
		}
		s.conns[c] = nil
		s.busy.Add(1)
		s.mutex.Unlock()
		go s.serve(c)
	}
}

// serve is a peer's life: handshake, then one message after the other.
func (s *socket) serve(c net.Conn) {
	defer s.busy.Done()
	defer func() {
		c.Close()
		s.mutex.Lock()
		delete(s.conns, c)
		s.mutex.Unlock()
	}()
	r := bufio.NewReaderSize(c, 16<<10)
	identity, err := shake(c, r, s.kind, "", s.limits.Handshake)
	if err != nil {
		return
	}
	p := newPeer(c, s.limits.Queue)
	s.mutex.Lock()
	if s.closed {
		s.mutex.Unlock()
		return
	}
	s.conns[c] = p
	s.busy.Add(1)
	s.mutex.Unlock()
	go func() {
		defer s.busy.Done()
		p.write()
	}()
	s.joined(p, identity)
	for {
		m, err := readMessage(r, s.limits.Message)
		if err != nil {
			break
		}
		s.received(p, m)
	}
	s.left(p)
	p.end()
}

// peers are those that are ready.
func (s *socket) peers() []*peer {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	var out []*peer
	for _, p := range s.conns {
		if p != nil {
			out = append(out, p)
		}
	}
	return out
}

// Close takes no more peers, waits up to linger until what was sent has gone out, and ends all connections.
func (s *socket) close(linger time.Duration) {
	s.listener.Close()
	s.mutex.Lock()
	s.closed = true
	s.mutex.Unlock()
	until := time.Now().Add(linger)
	for _, p := range s.peers() {
		p.drain(time.Until(until))
	}
	s.mutex.Lock()
	for c, p := range s.conns {
		if p != nil {
			p.end()
		}
		c.Close()
	}
	s.mutex.Unlock()
	s.busy.Wait()
}

// peer is one connection with what waits to be written to it.
type peer struct {
	conn  net.Conn
	limit int

	mutex   sync.Mutex
	changed *sync.Cond
	waiting net.Buffers
	size    int // bytes waiting, those being written included
	ended   bool
}

func newPeer(c net.Conn, limit int) *peer {
	p := &peer{conn: c, limit: limit}
	p.changed = sync.NewCond(&p.mutex)
	return p
}

// send puts a message, as encoded, on the queue, and reports whether the peer is still there. It never waits.
func (p *peer) send(encoded net.Buffers) bool {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.ended {
		return false
	}
	n := 0
	for _, b := range encoded {
		n += len(b)
	}
	if p.size > 0 && p.size+n > p.limit {
		p.stop()
		return false
	}
	p.waiting = append(p.waiting, encoded...)
	p.size += n
	p.changed.Broadcast()
	return true
}

// write writes whatever waits in as few system calls as it takes, until the peer ends.
func (p *peer) write() {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	for {
		for len(p.waiting) == 0 && !p.ended {
			p.changed.Wait()
		}
		if p.ended {
			return
		}
		batch, size := p.waiting, p.size
		p.waiting = nil
		p.mutex.Unlock()
		_, err := batch.WriteTo(p.conn)
		p.mutex.Lock()
		p.size -= size
		if err != nil {
			p.stop()
		}
		p.changed.Broadcast()
	}
}

// end forgets what waits and closes the connection.
func (p *peer) end() {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.stop()
}

func (p *peer) stop() {
	if !p.ended {
		p.ended, p.waiting = true, nil
		p.conn.Close()
		p.changed.Broadcast()
	}
}

// drain waits until nothing waits any more, at most for a while.
func (p *peer) drain(within time.Duration) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	over := false
	defer time.AfterFunc(within, func() {
		p.mutex.Lock()
		over = true
		p.changed.Broadcast()
		p.mutex.Unlock()
	}).Stop()
	for p.size > 0 && !p.ended && !over {
		p.changed.Wait()
	}
}
