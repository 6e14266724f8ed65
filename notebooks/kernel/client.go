package kernel

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"keelmark/notebooks/wire"
	"keelmark/notebooks/zmtp"
)

// Channel is one of the channels on which a front end sends requests.
type Channel int

// The channels.
const (
	Shell Channel = iota
	Control
	Stdin
	published // what the kernel publishes; nothing is sent there
	channels
)

// Client is a plain front end: it sends requests and hands back what the kernel answers and publishes.
type Client struct {
	signer    *wire.Signer
	conns     [channels]*zmtp.Conn
	inboxes   [channels]*queue[*wire.Message]
	heartbeat *zmtp.Conn
}

// Connect connects to a kernel.
func Connect(ctx context.Context, c Connection) (*Client, error) {
	signer, err := wire.NewSigner(c.Scheme, c.Key, "keelmark")
	if err != nil {
		return nil, err
	}
	out := &Client{signer: signer}
	for i, port := range []int{c.Shell, c.Control, c.Stdin, c.IOPub} {
		network, address := c.address(port)
		var conn *zmtp.Conn
		if Channel(i) == published {
			conn, err = zmtp.DialSubscriber(ctx, network, address, "")
		} else {
			conn, err = zmtp.DialDealer(ctx, network, address, signer.Session())
		}
		if err != nil {
			out.Close()
			return nil, err
		}
		out.conns[i], out.inboxes[i] = conn, newQueue[*wire.Message]()
		go out.read(conn, out.inboxes[i])
	}
	network, address := c.address(c.Heartbeat)
	if out.heartbeat, err = zmtp.DialHeartbeat(ctx, network, address); err != nil {
		out.Close()
		return nil, err
	}
	return out, nil
}

func (c *Client) read(conn *zmtp.Conn, into *queue[*wire.Message]) {
	defer into.finish()
	for {
		frames, err := conn.Receive()
		if err != nil {
			return
		}
		if m, err := c.signer.Parse(frames); err == nil {
			into.push(m)
		}
	}
}

// Close ends the connection.
func (c *Client) Close() {
	for _, conn := range append(slices.Clone(c.conns[:]), c.heartbeat) {
		if conn != nil {
			conn.Close()
		}
	}
}

// Send sends a request and returns its id.
func (c *Client) Send(on Channel, kind string, content any) (id string, err error) {
	frames, err := c.signer.Build(nil, kind, nil, content)
	if err != nil {
		return "", err
	}
	var h wire.Header
	if err := json.Unmarshal(frames[2], &h); err != nil {
		return "", err
	}
	return h.ID, c.conns[on].Send(frames)
}

// Reply waits for the reply to a request. Others are passed over.
func (c *Client) Reply(ctx context.Context, on Channel, id string) (*wire.Message, error) {
	for {
		m, err := c.next(ctx, on)
		if err != nil || m.ParentID() == id {
			return m, err
		}
	}
}

// Question waits for a question of a cell.
func (c *Client) Question(ctx context.Context) (*wire.Message, error) { return c.next(ctx, Stdin) }

// Published waits for the next message that the kernel publishes.
func (c *Client) Published(ctx context.Context) (*wire.Message, error) { return c.next(ctx, published) }

func (c *Client) next(ctx context.Context, on Channel) (*wire.Message, error) {
	m, ok := c.inboxes[on].next(ctx)
	switch {
	case ok:
		return m, nil
	case ctx.Err() != nil:
		return nil, fmt.Errorf("the kernel did not answer: %w", ctx.Err())
	}
	return nil, fmt.Errorf("the kernel ended the connection")
}

// Ask sends a request and waits for its reply.
func (c *Client) Ask(ctx context.Context, on Channel, kind string, content any) (*wire.Message, error) {
	id, err := c.Send(on, kind, content)
	if err != nil {
		return nil, err
	}
	return c.Reply(ctx, on, id)
}

// Outputs collects what is published for a request, up to the status idle.
func (c *Client) Outputs(ctx context.Context, id string) ([]*wire.Message, error) {
	var out []*wire.Message
	for {
		m, err := c.Published(ctx)
		if err != nil {
			return out, err
		}
		if m.ParentID() != id {
			continue
		}
		var status struct {
			State string `json:"execution_state"`
		}
		if m.Header.Type == "status" && m.Read(&status) == nil && status.State == "idle" {
			return out, nil
		}
		out = append(out, m)
	}
}

// Beat sends a heartbeat and returns how long it took to come back.
func (c *Client) Beat() (time.Duration, error) {
	start := time.Now()
	if err := c.heartbeat.Send(zmtp.Message{nil, []byte("ping")}); err != nil {
		return 0, err
	}
	m, err := c.heartbeat.Receive()
	if err == nil && (len(m) != 2 || string(m[1]) != "ping") {
		err = fmt.Errorf("the heartbeat came back as %q", m)
	}
	return time.Since(start), err
}
