// Package kernel serves the cell engine to notebook front ends, over the public messaging protocol, 5.3.
//
// One goroutine answers the requests of the shell channel strictly in order. The control channel has its own,
// which never waits for a cell, so that an interrupt or a shutdown is heard while one runs. Every request ends
// with a reply and the status idle, whatever happens. The kernel listens to its own machine only, and ends
// when the front end that started it is gone.
//
// Source: the public messaging specification of the notebook ecosystem.
package kernel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"keelmark/notebooks/cell"
	"keelmark/notebooks/wire"
	"keelmark/notebooks/zmtp"
)

// Options is what a kernel is made of.
type Options struct {
	Connection Connection
	// Engine makes the engine that runs the cells. It is called once, after the ports are open, and given the
	// function by which a cell asks the person a question.
	Engine  func(ctx context.Context, input Input) (*cell.Engine, error)
	Name    string // "keelmark"
	Version string // of the program
	Banner  string // what a console shows first
	Parent  int    // process whose end ends the kernel; 0 for none
	User    string // of the messages
}

// Input asks the person at the front end.
type Input = func(ctx context.Context, prompt string) (string, error)

// Kernel is a kernel whose ports are open.
type Kernel struct {
	options    Options
	connection Connection
	signer     *wire.Signer
	topic      string // of what is published

	shell, control, stdin *zmtp.Router
	iopub                 *zmtp.Publisher
	heartbeat             *zmtp.Heartbeat
	requests, orders      *queue[*request] // of shell and control
	listened              sync.Once

	engine building

	running  running // what can be interrupted
	answers  chan answer
	asker    asker // the request that a question of a cell belongs to; the shell worker's alone
	count    int   // of executed cells; the shell worker's alone
	history  history
	aborting aborting

	end      context.CancelFunc // ends everything
	ended    context.Context
	shellEnd chan struct{} // closed when the shell worker has ended
}

// request is a message with where it came from and when.
type request struct {
	*wire.Message
	peer    string
	arrived time.Time
}

// building is the engine, which is made while the front end connects.
type building struct {
	ready  chan struct{} // closed when the rest is set
	engine *cell.Engine
	err    error
}

// running is what an interrupt stops.
type running struct {
	mutex  sync.Mutex
	cancel context.CancelFunc
}

// Start opens the ports and begins to answer. Wait ends it.
func Start(o Options) (*Kernel, error) {
	signer, err := wire.NewSigner(o.Connection.Scheme, o.Connection.Key, o.User)
	if err != nil {
		return nil, err
	}
	l, err := o.Connection.listen()
	if err != nil {
		return nil, err
	}
	k := &Kernel{options: o, connection: l.connection, signer: signer, topic: "kernel." + signer.Session() + ".",
		requests: newQueue[*request](), orders: newQueue[*request](), answers: make(chan answer, 1), shellEnd: make(chan struct{})}
	k.ended, k.end = context.WithCancel(context.Background())
	k.engine.ready = make(chan struct{})

	debug.SetGCPercent(100) // see collectLater
	limits := zmtp.Limits{}
	k.iopub = zmtp.NewPublisher(l.iopub, limits)
	k.stdin = zmtp.NewRouter(l.stdin, limits, k.answered)
	k.heartbeat = zmtp.NewHeartbeat(l.heartbeat, zmtp.Limits{Message: 1 << 20, Queue: 1 << 20})
	k.control = zmtp.NewRouter(l.control, limits, k.into(k.orders))
	k.shell = zmtp.NewRouter(l.shell, limits, k.into(k.requests))
	go k.build()
	go func() {
		defer close(k.shellEnd)
		k.work(k.shell, k.requests, k.onShell)
	}()
	go k.work(k.control, k.orders, k.onControl)
	return k, nil
}

// Connection is where the kernel listens.
func (k *Kernel) Connection() Connection { return k.connection }

// build makes the engine, and gives back the memory that reading the flock took. A fault of ours in it must
// not end the kernel without a word.
func (k *Kernel) build() {
	defer debug.FreeOSMemory()
	defer close(k.engine.ready)
	defer func() {
		if p := recover(); p != nil {
			k.engine.err = fmt.Errorf("keelmark itself failed at the start (%v)", p)
		}
	}()
	k.engine.engine, k.engine.err = k.options.Engine(k.ended, k.input)
}

// into puts the messages of a channel that are rightly signed on a queue, and drops the others.
func (k *Kernel) into(q *queue[*request]) func(string, zmtp.Message) {
	return func(peer string, m zmtp.Message) {
		arrived := time.Now()
		if parsed, err := k.signer.Parse(m); err == nil {
			q.push(&request{parsed, peer, arrived})
		}
	}
}

// lingering is how long an ending kernel waits for what it sent to go out.
const lingering = 500 * time.Millisecond

// Wait waits until the kernel was shut down, the context is done, or the parent process is gone, and ends it
// in order: no cell runs on, what was sent goes out, the ports are closed.
func (k *Kernel) Wait(ctx context.Context) error {
	orphaned := make(chan struct{})
	if k.options.Parent > 0 {
		go watchParent(k.ended, k.options.Parent, func() { close(orphaned) })
	}
	var err error
	select {
	case <-k.ended.Done():
	case <-ctx.Done():
	case <-orphaned:
		err = errors.New("the front end that started this kernel is gone")
	}
	k.requests.close()
	k.orders.close()
	k.Interrupt()
	k.end()
	k.settle(200 * time.Millisecond)
	var closing sync.WaitGroup
	for _, c := range []func(){
		func() { k.shell.Close(lingering) }, func() { k.control.Close(lingering) }, func() { k.stdin.Close(lingering) },
		func() { k.iopub.Close(lingering) }, k.heartbeat.Close,
	} {
		closing.Go(c)
	}
	closing.Wait()
	return err
}

// settle waits a while for the shell worker to have ended.
func (k *Kernel) settle(within time.Duration) {
	select {
	case <-k.shellEnd:
	case <-time.After(within):
	}
}

// Interrupt stops the cell that runs. Where none runs it does nothing.
func (k *Kernel) Interrupt() {
	k.running.mutex.Lock()
	defer k.running.mutex.Unlock()
	if k.running.cancel != nil {
		k.running.cancel()
	}
}

// interruptible returns the context of a request, which Interrupt cancels.
func (k *Kernel) interruptible() (ctx context.Context, done func()) {
	ctx, cancel := context.WithCancel(k.ended)
	k.running.mutex.Lock()
	k.running.cancel = cancel
	k.running.mutex.Unlock()
	return ctx, func() {
		k.running.mutex.Lock()
		k.running.cancel = nil
		k.running.mutex.Unlock()
		cancel()
	}
}

// handler answers a request: the type and content of the reply, "" where there is none, and what is to happen
// once the reply and the status are sent.
type handler func(r *request) (kind string, content any, after func())

// work answers the requests of a queue one after the other.
func (k *Kernel) work(on *zmtp.Router, q *queue[*request], handle handler) {
	for {
		r, ok := q.next(k.ended)
		if !ok {
			return
		}
		k.answer(on, r, handle)
	}
}

func (k *Kernel) answer(on *zmtp.Router, r *request, handle handler) {
	k.listened.Do(k.awaitListener)
	k.publish(r.Raw, "status", map[string]any{"execution_state": "busy"})
	kind, content, after := k.safely(r, handle)
	if kind != "" {
		k.reply(on, r, kind, content)
	}
	k.publish(r.Raw, "status", map[string]any{"execution_state": "idle"})
	if after != nil {
		after()
	}
}

// safely turns a fault of ours into a reply.
func (k *Kernel) safely(r *request, handle handler) (kind string, content any, after func()) {
	defer func() {
		if p := recover(); p != nil {
			kind, content, after = replyTo(r.Header.Type), failed(string(cell.Internal), fmt.Sprint(p)), nil
		}
	}()
	return handle(r)
}

// awaitListener gives the first subscription a moment to arrive: what is published before it is seen by
// nobody, and front ends wait for the status that belongs to their first request, and then ask again.
func (k *Kernel) awaitListener() {
	select {
	case <-k.iopub.Subscribed():
	case <-time.After(100 * time.Millisecond):
	case <-k.ended.Done():
	}
}

// publish sends a message to all front ends.
func (k *Kernel) publish(parent json.RawMessage, kind string, content any) {
	frames, err := k.signer.Build([][]byte{[]byte(k.topic + kind)}, kind, parent, content)
	if err != nil {
		if kind == "stream" { // so that this cannot go on for ever
			return
		}
		k.publish(parent, "stream", map[string]any{"name": "stderr", "text": "Keelmark could not send an output: " + err.Error() + "\n"})
		return
	}
	k.iopub.Send(frames)
}

// reply answers a request, and only to the front end that sent it.
func (k *Kernel) reply(on *zmtp.Router, r *request, kind string, content any) {
	frames, err := k.signer.Build(r.Routing, kind, r.Raw, content)
	if err != nil {
		frames, err = k.signer.Build(r.Routing, kind, r.Raw, failed(string(cell.Internal), err.Error()))
	}
	if err == nil {
		on.Send(r.peer, frames)
	}
}
