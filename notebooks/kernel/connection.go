package kernel

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"

	"keelmark/notebooks/wire"
)

// Connection is a connection file: where a front end will look for the kernel, and the key of their messages.
type Connection struct {
	Transport string `json:"transport"` // tcp or ipc
	IP        string `json:"ip"`        // with ipc, the beginning of the sockets' paths
	Shell     int    `json:"shell_port"`
	IOPub     int    `json:"iopub_port"`
	Stdin     int    `json:"stdin_port"`
	Control   int    `json:"control_port"`
	Heartbeat int    `json:"hb_port"`
	Scheme    string `json:"signature_scheme"`
	Key       string `json:"key"`
}

// ReadConnection reads a connection file.
func ReadConnection(path string) (Connection, error) {
	var c Connection
	data, err := os.ReadFile(path)
	if err != nil {
		return c, fmt.Errorf("cannot read the connection file: %w", err)
	}
	if err := json.Unmarshal(data, &c); err != nil {
		return c, fmt.Errorf("%s is not a connection file: %w", filepath.Base(path), err)
	}
	if c.Transport == "" {
		c.Transport = "tcp"
	}
	if err := c.check(); err != nil {
		return c, fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	return c, nil
}

// Write writes a connection file that only its owner can read.
func (c Connection) Write(path string) error {
	data, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o600)
}

// LocalConnection is a connection to this machine with a key of its own. Ports of 0 are chosen by Start.
func LocalConnection() Connection {
	return Connection{Transport: "tcp", IP: "127.0.0.1", Scheme: "hmac-sha256", Key: wire.NewID()}
}

// FreePorts chooses ports that are free now.
func (c Connection) FreePorts() (Connection, error) {
	l, err := c.listen()
	if err != nil {
		return c, err
	}
	c = l.connection
	l.close()
	return c, nil
}

// check refuses what this kernel will not serve: it listens to its own machine only.
func (c Connection) check() error {
	switch c.Transport {
	case "ipc":
		if c.IP == "" {
			return errors.New("with transport ipc, ip must be a path")
		}
		return nil
	case "tcp":
	default:
		return fmt.Errorf("transport %.20q is not known here; tcp and ipc are", c.Transport)
	}
	if ip := net.ParseIP(c.IP); c.IP != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return fmt.Errorf("it asks to listen on %.60q; this kernel serves its own machine only, so start the front end with ip 127.0.0.1", c.IP)
	}
	return nil
}

// address is where a channel listens.
func (c Connection) address(port int) (network, address string) {
	if c.Transport == "ipc" {
		return "unix", c.IP + "-" + strconv.Itoa(port)
	}
	return "tcp", net.JoinHostPort(c.IP, strconv.Itoa(port))
}

// listeners are the five open ports.
type listeners struct {
	shell, iopub, stdin, control, heartbeat net.Listener
	connection                              Connection // with the ports that were chosen
}

func (c Connection) listen() (*listeners, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	l := &listeners{connection: c}
	for i, channel := range []struct {
		name string
		port *int
		at   *net.Listener
	}{
		{"shell", &l.connection.Shell, &l.shell},
		{"iopub", &l.connection.IOPub, &l.iopub},
		{"stdin", &l.connection.Stdin, &l.stdin},
		{"control", &l.connection.Control, &l.control},
		{"heartbeat", &l.connection.Heartbeat, &l.heartbeat},
	} {
		if c.Transport == "ipc" && *channel.port == 0 {
			*channel.port = i + 1
		}
		network, address := c.address(*channel.port)
		at, err := net.Listen(network, address)
		if err != nil {
			l.close()
			return nil, fmt.Errorf("cannot open the %s port: %w", channel.name, err)
		}
		*channel.at = at
		if tcp, ok := at.Addr().(*net.TCPAddr); ok {
			*channel.port = tcp.Port
		}
	}
	return l, nil
}

func (l *listeners) close() {
	for _, at := range []net.Listener{l.shell, l.iopub, l.stdin, l.control, l.heartbeat} {
		if at != nil {
			at.Close()
		}
	}
}
