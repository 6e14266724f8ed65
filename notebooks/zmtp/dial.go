package zmtp

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"sync"
)

// Conn is the connecting end of a socket, for one goroutine that sends and one that receives.
type Conn struct {
	conn   net.Conn
	reader *bufio.Reader
	limits Limits
	mutex  sync.Mutex // of writing
}

// DialDealer connects to a ROUTER. Identity is what the router will know this end by.
func DialDealer(ctx context.Context, network, address, identity string) (*Conn, error) {
	return dial(ctx, network, address, dealer, identity)
}

// DialSubscriber connects to a PUB and subscribes to all topics that begin with one of those given; "" is all.
func DialSubscriber(ctx context.Context, network, address string, topics ...string) (*Conn, error) {
	c, err := dial(ctx, network, address, sub, "")
	if err != nil {
		return nil, err
	}
	for _, t := range topics {
		if err := c.Send(Message{append([]byte{1}, t...)}); err != nil {
			c.Close()
			return nil, err
		}
	}
	return c, nil
}

// DialHeartbeat connects to a heartbeat.
func DialHeartbeat(ctx context.Context, network, address string) (*Conn, error) {
	return dial(ctx, network, address, req, "")
}

func dial(ctx context.Context, network, address, kind, identity string) (*Conn, error) {
	var d net.Dialer
	c, err := d.DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	out := &Conn{conn: c, reader: bufio.NewReaderSize(c, 64<<10), limits: Limits{}.orDefault()}
	stop := context.AfterFunc(ctx, func() { c.Close() })
	_, err = shake(c, out.reader, kind, identity, out.limits.Handshake)
	if !stop() && err == nil {
		err = ctx.Err()
	}
	if err != nil {
		c.Close()
		return nil, fmt.Errorf("%s: %w", address, err)
	}
	return out, nil
}

// Send writes a message.
func (c *Conn) Send(m Message) error {
	b := encode(m)
	c.mutex.Lock()
	defer c.mutex.Unlock()
	_, err := b.WriteTo(c.conn)
	return err
}

// Receive waits for the next message. Close ends the wait.
func (c *Conn) Receive() (Message, error) { return readMessage(c.reader, c.limits.Message) }

// Close ends the connection.
func (c *Conn) Close() error { return c.conn.Close() }
