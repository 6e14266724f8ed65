package zmtp

import (
	"bytes"
	"encoding/binary"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// Router is a listening ROUTER socket: it knows its peers by identity.
type Router struct {
	socket  socket
	mutex   sync.Mutex
	byName  map[string]*peer
	nameOf  map[*peer]string
	unnamed atomic.Uint64
}

// NewRouter serves a listener. Received is called with each message and the identity of the peer that sent
// it, messages of one peer in order, those of different peers at the same time.
func NewRouter(l net.Listener, limits Limits, received func(identity string, m Message)) *Router {
	r := &Router{byName: map[string]*peer{}, nameOf: map[*peer]string{}}
	r.socket = socket{listener: l, kind: router, limits: limits, joined: r.join, left: r.leave,
		received: func(p *peer, m Message) {
			r.mutex.Lock()
			name := r.nameOf[p]
			r.mutex.Unlock()
			received(name, m)
		}}
	r.socket.begin()
	return r
}

// join names a peer. The newest of one name is the one that is meant: front ends reconnect under their old
// identity before the old connection is known to be dead.
func (r *Router) join(p *peer, identity string) {
	if identity == "" { // a name that no peer may choose begins with a zero byte
		identity = string(binary.BigEndian.AppendUint64([]byte{0}, r.unnamed.Add(1)))
	}
	r.mutex.Lock()
	old := r.byName[identity]
	r.byName[identity], r.nameOf[p] = p, identity
	r.mutex.Unlock()
	if old != nil {
		old.end()
	}
}

func (r *Router) leave(p *peer) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if name := r.nameOf[p]; r.byName[name] == p {
		delete(r.byName, name)
	}
	delete(r.nameOf, p)
}

// Send sends a message to one peer without waiting, and reports whether there is such a peer.
func (r *Router) Send(identity string, m Message) bool {
	r.mutex.Lock()
	p := r.byName[identity]
	r.mutex.Unlock()
	return p != nil && p.send(encode(m))
}

// Close ends the socket once what was sent is out, or after linger.
func (r *Router) Close(linger time.Duration) { r.socket.close(linger) }

// Publisher is a listening PUB socket.
type Publisher struct {
	socket socket

	mutex      sync.Mutex
	topics     map[*peer][]string
	subscribed chan struct{} // closed at the first subscription
	once       sync.Once
}

// NewPublisher serves a listener.
func NewPublisher(l net.Listener, limits Limits) *Publisher {
	p := &Publisher{topics: map[*peer][]string{}, subscribed: make(chan struct{})}
	p.socket = socket{listener: l, kind: pub, limits: limits, joined: func(*peer, string) {}, received: p.receive,
		left: func(gone *peer) {
			p.mutex.Lock()
			delete(p.topics, gone)
			p.mutex.Unlock()
		}}
	p.socket.begin()
	return p
}

// receive reads a subscription: 1 or 0 and the beginning of the topics that are wanted, or no longer.
func (p *Publisher) receive(from *peer, m Message) {
	if len(m) != 1 || len(m[0]) == 0 {
		return
	}
	topic := string(m[0][1:])
	p.mutex.Lock()
	defer p.mutex.Unlock()
	switch m[0][0] {
	case 1:
		if len(p.topics[from]) < mostTopics {
			p.topics[from] = append(p.topics[from], topic)
		}
		p.once.Do(func() { close(p.subscribed) })
	case 0:
		if at := slices.Index(p.topics[from], topic); at >= 0 {
			p.topics[from] = slices.Delete(p.topics[from], at, at+1)
		}
	}
}

// mostTopics is how many subscriptions of one peer are heeded.
const mostTopics = 1000

// Subscribed is closed once the first subscription has come. What is sent before is seen by nobody.
func (p *Publisher) Subscribed() <-chan struct{} { return p.subscribed }

// Send sends a message without waiting to all who subscribed to its first frame.
func (p *Publisher) Send(m Message) {
	p.mutex.Lock()
	defer p.mutex.Unlock() // held while queueing, so that all see the same order
	var encoded net.Buffers
	for to, topics := range p.topics {
		wanted := slices.ContainsFunc(topics, func(t string) bool { return bytes.HasPrefix(m[0], []byte(t)) })
		if !wanted {
			continue
		}
		if encoded == nil {
			encoded = encode(m)
		}
		to.send(encoded)
	}
}

// Close ends the socket once what was sent is out, or after linger.
func (p *Publisher) Close(linger time.Duration) { p.socket.close(linger) }

// Heartbeat is a listening socket that sends back what it gets.
type Heartbeat struct{ socket socket }

// NewHeartbeat serves a listener.
func NewHeartbeat(l net.Listener, limits Limits) *Heartbeat {
	h := &Heartbeat{}
	h.socket = socket{listener: l, kind: rep, limits: limits, joined: func(*peer, string) {}, left: func(*peer) {},
		received: func(p *peer, m Message) { p.send(encode(m)) }}
	h.socket.begin()
	return h
}

// Close ends the socket.
func (h *Heartbeat) Close() { h.socket.close(0) }
