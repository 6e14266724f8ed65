package kernel

import (
	"encoding/json"
	"strings"
	"sync"
	"time"

	"keelmark/notebooks/cell"
)

// Printed text is gathered, for a cell may print a hundred thousand times: it goes out when so much waits, or
// after so long, or before anything else that the cell shows.
const (
	gatherBytes = 64 << 10
	gatherTime  = 50 * time.Millisecond
)

// output publishes what a cell shows.
type output struct {
	kernel *Kernel
	parent json.RawMessage
	count  int
	last   cell.Bundle // the result, for the history

	mutex  sync.Mutex
	stream string
	text   strings.Builder
	timer  *time.Timer
}

var _ cell.Sink = (*output)(nil)

// Stream implements cell.Sink.
func (o *output) Stream(name, text string) {
	if text == "" {
		return
	}
	o.mutex.Lock()
	defer o.mutex.Unlock()
	if name != o.stream {
		o.send()
		o.stream = name
	}
	o.text.WriteString(text)
	switch {
	case o.text.Len() >= gatherBytes:
		o.send()
	case o.timer == nil:
		o.timer = time.AfterFunc(gatherTime, o.flush)
	}
}

// flush sends the text that was gathered.
func (o *output) flush() {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	o.send()
}

func (o *output) send() {
	if o.timer != nil {
		o.timer.Stop()
		o.timer = nil
	}
	if o.text.Len() == 0 {
		return
	}
	o.kernel.publish(o.parent, "stream", map[string]any{"name": o.stream, "text": o.text.String()})
	o.text.Reset()
}

// publish sends something after the text that came before it.
func (o *output) publish(kind string, content any) {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	o.send()
	o.kernel.publish(o.parent, kind, content)
}

// Display implements cell.Sink.
func (o *output) Display(b cell.Bundle) {
	o.publish("display_data", map[string]any{"data": b, "metadata": map[string]any{}, "transient": map[string]any{}})
}

// Result implements cell.Sink.
func (o *output) Result(b cell.Bundle) {
	o.last = b
	o.publish("execute_result", map[string]any{"data": b, "metadata": map[string]any{}, "execution_count": o.count})
}

// Error implements cell.Sink.
func (o *output) Error(f *cell.Failure) { o.publish("error", failure(f)) }

// Clear implements cell.Sink.
func (o *output) Clear(wait bool) { o.publish("clear_output", map[string]any{"wait": wait}) }

// quiet is where a cell shows what nobody is to see.
type quiet struct{ last cell.Bundle }

var _ cell.Sink = (*quiet)(nil)

func (*quiet) Stream(string, string)  {}
func (*quiet) Display(cell.Bundle)    {}
func (q *quiet) Result(b cell.Bundle) { q.last = b }
func (*quiet) Error(*cell.Failure)    {}
func (*quiet) Clear(bool)             {}

// failure is why a cell stopped, as messages say it.
func failure(f *cell.Failure) map[string]any {
	return map[string]any{"ename": string(f.Kind), "evalue": f.Error(), "traceback": f.Traceback()}
}

// failed is the content of a reply that says why there is no other.
func failed(name, why string) map[string]any {
	return map[string]any{"status": "error", "ename": name, "evalue": why, "traceback": []string{name + ": " + why}}
}
