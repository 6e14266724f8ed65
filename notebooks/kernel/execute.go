package kernel

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"keelmark/notebooks/cell"
	"keelmark/notebooks/zmtp"
)

type executeRequest struct {
	Code         string            `json:"code"`
	Silent       bool              `json:"silent"`
	StoreHistory *bool             `json:"store_history"` // yes unless silent
	Expressions  map[string]string `json:"user_expressions"`
	AllowStdin   *bool             `json:"allow_stdin"`   // yes
	StopOnError  *bool             `json:"stop_on_error"` // yes
}

func (k *Kernel) execute(ctx context.Context, r *request) any {
	var q executeRequest
	if err := r.Read(&q); err != nil {
		return failed("RequestError", err.Error())
	}
	counts := !q.Silent && (q.StoreHistory == nil || *q.StoreHistory) && strings.TrimSpace(q.Code) != ""
	count := k.count + 1
	if counts {
		k.count = count
	}
	shown := &output{kernel: k, parent: r.Raw, count: count}
	var sink cell.Sink = shown
	if q.Silent {
		sink = &quiet{}
	} else {
		shown.publish("execute_input", map[string]any{"code": q.Code, "execution_count": count})
	}
	if leaves(q.Code) {
		return map[string]any{"status": "ok", "execution_count": count, "user_expressions": map[string]any{},
			"payload": []any{map[string]any{"source": "ask_exit", "keepkernel": false}}}
	}
	k.asker = asker{request: r, allowed: q.AllowStdin == nil || *q.AllowStdin, shown: shown}
	defer func() { k.asker = asker{} }()

	name := fmt.Sprintf("cell %d", count)
	if !counts {
		name = "unnumbered cell"
	}
	engine, failure := k.run(ctx, name, q.Code, sink)
	shown.flush()
	if counts {
		result, _ := shown.last["text/plain"].(string)
		k.history.add(count, q.Code, result)
	}
	if failure != nil {
		if q.StopOnError == nil || *q.StopOnError {
			k.abort(r)
		}
		out := failed(string(failure.Kind), failure.Error())
		out["traceback"] = failure.Traceback()
		out["execution_count"] = count
		return out
	}
	return map[string]any{"status": "ok", "execution_count": count, "payload": []any{},
		"user_expressions": expressions(ctx, engine, q.Expressions)}
}

// leaves reports whether a cell is a person's way to leave a console, which is for the kernel to pass on.
func leaves(code string) bool {
	switch strings.TrimSpace(code) {
	case "exit", "quit", "exit()", "quit()":
		return true
	}
	return false
}

// run runs a cell, once the engine is there.
func (k *Kernel) run(ctx context.Context, name, code string, sink cell.Sink) (*cell.Engine, *cell.Failure) {
	engine, err := k.ready(ctx)
	if err != nil {
		f := &cell.Failure{Kind: cell.Mistake, Message: err.Error()}
		if ctx.Err() != nil {
			f.Kind = cell.Interrupted
		}
		sink.Error(f)
		return nil, f
	}
	return engine, engine.Run(ctx, name, code, sink)
}

// expressions are values that a front end wants to know beside the outputs.
func expressions(ctx context.Context, engine *cell.Engine, wanted map[string]string) map[string]any {
	out := map[string]any{}
	for name, source := range wanted {
		var sink quiet
		if f := engine.Run(ctx, "expression "+name, source, &sink); f != nil {
			content := failure(f)
			content["status"] = "error"
			out[name] = content
			continue
		}
		if sink.last == nil {
			sink.last = cell.Bundle{"text/plain": "None"}
		}
		out[name] = map[string]any{"status": "ok", "data": sink.last, "metadata": map[string]any{}}
	}
	return out
}

// aborting is the failure of a cell: what its front end had asked to run after it is not run. Front ends send
// all cells of a notebook at once.
type aborting struct {
	session string
	since   time.Time // when the failure was about to be told
}

// underway is how long a failure is held back before it is told. What comes until then was sent by a front end
// that could not know of it; what comes later may be sent in answer to it, and is run.
const underway = 30 * time.Millisecond

func (a aborting) covers(r *request) bool {
	return r.Header.Session == a.session && !r.arrived.After(a.since)
}

// abort awaits what is under way behind a request that failed.
func (k *Kernel) abort(r *request) {
	select {
	case <-time.After(underway):
	case <-k.ended.Done():
	}
	k.aborting = aborting{session: r.Header.Session, since: time.Now()}
}

// asker is the request whose cell may ask a question.
type asker struct {
	request *request
	allowed bool
	shown   *output
}

// answer is what a front end sent on the stdin channel.
type answer struct{ peer, text string }

// input asks the front end whose cell runs.
func (k *Kernel) input(ctx context.Context, prompt string) (string, error) {
	a := k.asker
	if a.request == nil || !a.allowed {
		return "", errors.New("this front end cannot ask questions; set the value in a cell instead")
	}
	a.shown.flush()
	select {
	case <-k.answers: // a late answer to an earlier question
	default:
	}
	frames, err := k.signer.Build(a.request.Routing, "input_request", a.request.Raw, map[string]any{"prompt": prompt, "password": false})
	if err != nil {
		return "", err
	}
	for try := 0; !k.stdin.Send(a.request.peer, frames); try++ { // its channel may still be connecting
		if try == 50 {
			return "", errors.New("the front end has no channel to answer questions; set the value in a cell instead")
		}
		select {
		case <-ctx.Done():
			return "", ctx.Err()
		case <-time.After(20 * time.Millisecond):
		}
	}
	for {
		select {
		case <-ctx.Done():
			return "", ctx.Err()
		case got := <-k.answers:
			if got.peer == a.request.peer {
				return got.text, nil
			}
		}
	}
}

// answered takes a message of the stdin channel. The newest answer is the one that counts.
func (k *Kernel) answered(peer string, frames zmtp.Message) {
	m, err := k.signer.Parse(frames)
	if err != nil || m.Header.Type != "input_reply" {
		return
	}
	var reply struct{ Value string }
	if m.Read(&reply) != nil {
		return
	}
	for {
		select {
		case k.answers <- answer{peer, reply.Value}:
			return
		default:
		}
		select {
		case <-k.answers:
		default:
		}
	}
}
