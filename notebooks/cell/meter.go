package cell

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync"
	"time"
)

// meter tells when a cell has taken more memory than it may. What a cell makes in many small steps is watched
// from beside; a step that makes much asks before it does, since it could not be stopped half way.
type meter struct {
	limit uint64

	mutex sync.Mutex
	start uint64 // bytes of the heap when the cell began, or the least since
}

func newMeter(limit uint64) *meter {
	if heap() > limit/4 {
		runtime.GC() // so that what earlier cells left behind is no room for this one
	}
	return &meter{limit: limit, start: heap()}
}

// heap is how many bytes live on the heap, litter that was not cleared away yet included.
func heap() uint64 {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}

// over reports whether the cell has taken too much, not counting litter.
func (m *meter) over() bool {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	now := heap()
	m.start = min(m.start, now) // what earlier cells left behind may have been cleared away since
	if now-m.start <= m.limit {
		return false
	}
	runtime.GC()
	now = heap()
	m.start = min(m.start, now)
	return now-m.start > m.limit
}

// watch calls stop when the cell has taken too much. It returns a function that ends the watch, and gives
// memory back where much was taken.
func (m *meter) watch(stop func()) (end func()) {
	done := make(chan struct{})
	go func() {
		tick := time.NewTicker(5 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
			}
			if m.over() {
				stop()
				return
			}
		}
	}()
	return func() {
		close(done)
		m.mutex.Lock()
		defer m.mutex.Unlock()
		if heap() > m.start+m.limit/4 {
			debug.FreeOSMemory()
		}
	}
}
