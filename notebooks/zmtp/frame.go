package zmtp

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
)

// Message is the frames of one message.
type Message [][]byte

// Size is the number of bytes in all frames.
func (m Message) Size() int {
	n := 0
	for _, f := range m {
		n += len(f)
	}
	return n
}

// Flags of a frame. Source: ZMTP 3.0, section "Framing", public specification 23/ZMTP.
const (
	flagMore    = 0x01
	flagLong    = 0x02
	flagCommand = 0x04
	flagUnknown = 0xf8
)

// shortest is the size up to which one read allocates what a peer announces; more is taken as it comes, so
// that a peer which only announces much costs little.
const shortest = 64 << 10

var errTooLarge = errors.New("the peer sent a message above the limit")

// readFrame reads one frame of at most limit bytes.
func readFrame(r *bufio.Reader, limit int) (flags byte, body []byte, err error) {
	if flags, err = r.ReadByte(); err != nil {
		return 0, nil, err
	}
	if flags&flagUnknown != 0 || flags&flagMore != 0 && flags&flagCommand != 0 {
		return 0, nil, fmt.Errorf("the peer sent a frame with flags %#x, which mean nothing", flags)
	}
	size := uint64(0)
	if flags&flagLong != 0 {
		var b [8]byte
		if _, err = io.ReadFull(r, b[:]); err != nil {
			return 0, nil, err
		}
		size = binary.BigEndian.Uint64(b[:])
	} else {
		b, err := r.ReadByte()
		if err != nil {
			return 0, nil, err
		}
		size = uint64(b)
	}
	if size > uint64(max(limit, 0)) {
		return 0, nil, errTooLarge
	}
	if size <= shortest {
		body = make([]byte, size)
		_, err = io.ReadFull(r, body)
		return flags, body, err
	}
	var b bytes.Buffer
	if _, err = io.CopyN(&b, r, int64(size)); err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return flags, b.Bytes(), err
}

// readMessage reads one message of at most limit bytes, passing over commands.
func readMessage(r *bufio.Reader, limit int) (Message, error) {
	var m Message
	room := limit
	for {
		flags, body, err := readFrame(r, room)
		if err != nil {
			return nil, err
		}
		if flags&flagCommand != 0 {
			continue
		}
		room -= len(body) + 1 // an empty frame is not free
		if room < 0 {
			return nil, errTooLarge
		}
		m = append(m, body)
		if flags&flagMore == 0 {
			return m, nil
		}
	}
}

// appendHead writes what stands before the bytes of a frame.
func appendHead(b []byte, flags byte, size int) []byte {
	if size > 255 {
		return binary.BigEndian.AppendUint64(append(b, flags|flagLong), uint64(size))
	}
	return append(b, flags, byte(size))
}

// packed is the size up to which the frames of a message are copied together rather than written as they lie.
const packed = 8 << 10

// encode makes of a message what goes over the connection.
func encode(m Message) net.Buffers {
	size := m.Size()
	head := make([]byte, 0, 9*len(m)+min(size, packed))
	var out net.Buffers
	start := 0
	for i, f := range m {
		flags := byte(flagMore)
		if i == len(m)-1 {
			flags = 0
		}
		head = appendHead(head, flags, len(f))
		if size <= packed {
			head = append(head, f...)
			continue
		}
		out = append(out, head[start:len(head):len(head)], f)
		start = len(head)
	}
	if size <= packed {
		return net.Buffers{head}
	}
	return out
}
