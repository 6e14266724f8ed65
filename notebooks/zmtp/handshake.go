package zmtp

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"time"
)

// The socket types that are spoken here.
const (
	router = "ROUTER"
	pub    = "PUB"
	rep    = "REP"
	dealer = "DEALER"
	sub    = "SUB"
	req    = "REQ"
)

// partners are the types that may stand at the other end. Source: ZMTP 3.0, "Socket-Type property".
func partners(kind string) []string {
	switch kind {
	case router:
		return []string{req, dealer, router}
	case pub:
		return []string{sub, "XSUB"}
	case rep:
		return []string{req, dealer}
	case dealer:
		return []string{rep, dealer, router}
	case sub:
		return []string{pub, "XPUB"}
	case req:
		return []string{rep, router}
	}
	return nil
}

// greeting announces version 3.0 without security. With 3.0 a subscriber of a newer library sends its
// subscriptions as messages; 3.1 would bring further commands.
// Source: ZMTP 3.0, "Version Negotiation", and the NULL mechanism.
func greeting() []byte {
	g := make([]byte, 64)
	g[0], g[8], g[9], g[10] = 0xff, 0x01, 0x7f, 3
	copy(g[12:], "NULL")
	return g
}

// readGreeting refuses a peer that speaks something else.
func readGreeting(r io.Reader) error {
	var g [64]byte
	if _, err := io.ReadFull(r, g[:11]); err != nil {
		return err
	}
	if g[0] != 0xff || g[9]&1 == 0 {
		return errors.New("the peer does not speak ZMTP")
	}
	if g[10] < 3 {
		return fmt.Errorf("the peer speaks ZMTP %d, and 3.0 is the oldest that is spoken here", g[10])
	}
	if _, err := io.ReadFull(r, g[11:]); err != nil {
		return err
	}
	if mechanism := string(bytes.TrimRight(g[12:32], "\x00")); mechanism != "NULL" {
		return fmt.Errorf("the peer wants the security mechanism %.20q, and only NULL is spoken here", mechanism)
	}
	return nil
}

// readiness is the command that ends a handshake.
func readiness(kind, identity string) []byte {
	body := append([]byte{5}, "READY"...)
	body = appendProperty(body, "Socket-Type", kind)
	if kind == req || kind == dealer || kind == router {
		body = appendProperty(body, "Identity", identity)
	}
	return append(appendHead(nil, flagCommand, len(body)), body...)
}

func appendProperty(b []byte, name, value string) []byte {
	b = append(append(b, byte(len(name))), name...)
	return append(binary.BigEndian.AppendUint32(b, uint32(len(value))), value...)
}

// parseReady reads the properties of a peer's READY command, names in lower case.
func parseReady(body []byte) (map[string]string, error) {
	if len(body) == 0 || int(body[0]) > len(body)-1 {
		return nil, errors.New("the peer sent an empty command")
	}
	end := 1 + int(body[0])
	name, rest := string(body[1:end]), body[end:]
	if name != "READY" {
		return nil, fmt.Errorf("the peer said %.20q where READY was due", name)
	}
	found := map[string]string{}
	for len(rest) > 0 {
		n := int(rest[0])
		if n == 0 || len(rest) < 1+n+4 {
			return nil, errors.New("the peer's READY command is cut short")
		}
		property := strings.ToLower(string(rest[1 : 1+n]))
		size := binary.BigEndian.Uint32(rest[1+n:])
		rest = rest[1+n+4:]
		if uint64(size) > uint64(len(rest)) {
			return nil, errors.New("the peer's READY command is cut short")
		}
		found[property] = string(rest[:size])
		rest = rest[size:]
	}
	return found, nil
}

// largestReady bounds what a peer may say of itself.
const largestReady = 4 << 10

// shake exchanges greetings within a deadline and returns the peer's identity, "" where it has none.
func shake(c net.Conn, r *bufio.Reader, kind, identity string, within time.Duration) (peer string, err error) {
	if err := c.SetDeadline(time.Now().Add(within)); err != nil {
		return "", err
	}
	if _, err := c.Write(greeting()); err != nil {
		return "", err
	}
	if err := readGreeting(r); err != nil {
		return "", err
	}
	if _, err := c.Write(readiness(kind, identity)); err != nil {
		return "", err
	}
	flags, body, err := readFrame(r, largestReady)
	if err != nil {
		return "", err
	}
	if flags&flagCommand == 0 {
		return "", errors.New("the peer sent a message before the handshake was over")
	}
	properties, err := parseReady(body)
	if err != nil {
		return "", err
	}
	if t := properties["socket-type"]; !slices.Contains(partners(kind), t) {
		return "", fmt.Errorf("a %.20q socket was connected to a %s", t, kind)
	}
	if peer = properties["identity"]; len(peer) > 255 {
		return "", errors.New("the peer's identity is longer than 255 bytes")
	}
	return peer, c.SetDeadline(time.Time{})
}
