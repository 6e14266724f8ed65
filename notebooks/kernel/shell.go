package kernel

import (
	"context"
	"errors"
	"strings"

	"keelmark/notebooks/cell"
	"keelmark/notebooks/wire"
)

// replyTo is the type of the reply to a request, "" where the message is none.
func replyTo(kind string) string {
	if base, ok := strings.CutSuffix(kind, "_request"); ok {
		return base + "_reply"
	}
	return ""
}

// onShell answers the requests of the shell channel.
func (k *Kernel) onShell(r *request) (kind string, content any, after func()) {
	ctx, done := k.interruptible()
	defer done()
	kind = replyTo(r.Header.Type)
	switch r.Header.Type {
	case "execute_request":
		if k.aborting.covers(r) {
			return kind, map[string]any{"status": "aborted"}, nil
		}
		return kind, k.execute(ctx, r), nil
	case "complete_request":
		return kind, k.complete(ctx, r), nil
	case "inspect_request":
		return kind, k.inspect(ctx, r), nil
	case "is_complete_request":
		var q struct{ Code string }
		if err := r.Read(&q); err != nil {
			return kind, failed("RequestError", err.Error()), nil
		}
		status, indent := cell.IsComplete(q.Code)
		out := map[string]any{"status": status}
		if status == "incomplete" {
			out["indent"] = indent
		}
		return kind, out, nil
	case "history_request":
		var q historyRequest
		if err := r.Read(&q); err != nil {
			return kind, failed("RequestError", err.Error()), nil
		}
		return kind, map[string]any{"status": "ok", "history": k.history.find(q)}, nil
	case "comm_info_request":
		return kind, map[string]any{"status": "ok", "comms": map[string]any{}}, nil
	case "comm_open": // there are no widgets here: say so, that the other end does not wait
		var q struct {
			ID string `json:"comm_id"`
		}
		if r.Read(&q) == nil {
			k.publish(r.Raw, "comm_close", map[string]any{"comm_id": q.ID, "data": map[string]any{}})
		}
		return "", nil, nil
	}
	return k.anywhere(r)
}

// onControl answers the requests of the control channel, at once.
func (k *Kernel) onControl(r *request) (kind string, content any, after func()) {
	switch r.Header.Type {
	case "interrupt_request":
		k.Interrupt()
		return "interrupt_reply", map[string]any{"status": "ok"}, nil
	case "shutdown_request": // let the cell that runs end with its own reply
		k.requests.close()
		k.Interrupt()
		k.settle(gatherTime)
	}
	return k.anywhere(r)
}

// anywhere answers what may be asked on either channel.
func (k *Kernel) anywhere(r *request) (kind string, content any, after func()) {
	kind = replyTo(r.Header.Type)
	switch r.Header.Type {
	case "kernel_info_request":
		return kind, k.info(), nil
	case "connect_request":
		c := k.connection
		return kind, map[string]any{"status": "ok", "shell_port": c.Shell, "iopub_port": c.IOPub, "stdin_port": c.Stdin,
			"control_port": c.Control, "hb_port": c.Heartbeat}, nil
	case "shutdown_request":
		var q struct{ Restart bool }
		_ = r.Read(&q) // whatever it says, it means the end
		return kind, map[string]any{"status": "ok", "restart": q.Restart}, k.end
	}
	if kind == "" { // no request: nobody waits for a reply
		return "", nil, nil
	}
	return kind, failed("RequestError", "this kernel does not know the request "+shorten(r.Header.Type)), nil
}

func shorten(s string) string { return string([]rune(s)[:min(len([]rune(s)), 60)]) }

func (k *Kernel) info() map[string]any {
	language := cell.Language()
	language["nbconvert_exporter"] = "python"
	return map[string]any{
		"status": "ok", "protocol_version": wire.Version, "implementation": k.options.Name, "implementation_version": k.options.Version,
		"banner": k.options.Banner, "help_links": []any{}, "language_info": language, "debugger": false,
	}
}

// ready waits for the engine.
func (k *Kernel) ready(ctx context.Context) (*cell.Engine, error) {
	select {
	case <-k.engine.ready:
		return k.engine.engine, k.engine.err
	case <-ctx.Done():
		return nil, errors.New("stopped by you while the flock was still being read; run the cell again to wait for it")
	}
}

func (k *Kernel) complete(ctx context.Context, r *request) any {
	var q struct {
		Code string `json:"code"`
		At   *int   `json:"cursor_pos"`
	}
	if err := r.Read(&q); err != nil {
		return failed("RequestError", err.Error())
	}
	engine, err := k.ready(ctx)
	if err != nil {
		return failed("RequestError", err.Error())
	}
	at := cursor(q.Code, q.At)
	offers, from := engine.Complete(q.Code, at)
	if offers == nil {
		offers = []string{}
	}
	return map[string]any{"status": "ok", "matches": offers, "cursor_start": from, "cursor_end": at, "metadata": map[string]any{}}
}

func (k *Kernel) inspect(ctx context.Context, r *request) any {
	var q struct {
		Code string `json:"code"`
		At   *int   `json:"cursor_pos"`
	}
	if err := r.Read(&q); err != nil {
		return failed("RequestError", err.Error())
	}
	engine, err := k.ready(ctx)
	if err != nil {
		return failed("RequestError", err.Error())
	}
	text, found := engine.Inspect(q.Code, cursor(q.Code, q.At))
	data := map[string]any{}
	if found {
		data["text/plain"] = text
	}
	return map[string]any{"status": "ok", "found": found, "data": data, "metadata": map[string]any{}}
}

// cursor is the place in a text, in code points; its end where none is given.
func cursor(code string, at *int) int {
	n := len([]rune(code))
	if at == nil {
		return n
	}
	return max(0, min(*at, n))
}
