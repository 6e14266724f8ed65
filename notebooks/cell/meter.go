package cell

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync"
	"time"
)

// meter tells when the cells of an engine hold more memory together than they may. The steps of a cell ask it
// as they go, so that nothing is added while it judges; a step that makes much asks before it does; and what
// a function of ours makes in one step is watched from beside.
type meter struct {
	limit uint64

	mutex sync.Mutex
	base  uint64 // bytes of the heap before the first cell, or the least since
	start uint64 // bytes of the heap when the running cell began, or the least since
}

func newMeter(limit uint64) *meter { return &meter{limit: limit, base: heap()} }

// begin starts the account of a cell.
func (m *meter) begin() {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.start = heap()
}

// spareRoom is the part of the limit that a cell may add where earlier ones left nothing, so that it can still
// set a name to None.
const spareRoom = 64

// heap is how many bytes live on the heap, litter that was not cleared away yet included.
func heap() uint64 {
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(sample)
	return sample[0].Value.Uint64()
}

// over reports whether the cells hold too much, not counting litter.
func (m *meter) over() bool {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if !m.exceeded() {
		return false
	}
	runtime.GC()
	return m.exceeded()
}

func (m *meter) exceeded() bool {
	now := heap()
	m.base, m.start = min(m.base, now), min(m.start, now) // litter may have been cleared away since
	return now > max(m.base+m.limit, m.start+m.limit/spareRoom)
}

// watch calls stop when the cells hold too much. It returns a function that ends the watch, and gives memory
// back where much was taken.
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
