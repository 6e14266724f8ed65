package kernel

import (
	"context"
	"sync"
)

// queue passes items from many goroutines to one, in order and without bound, so that whoever reads a
// connection never waits for whoever works.
type queue[T any] struct {
	mutex  sync.Mutex
	items  []T
	closed bool
	wake   chan struct{}
}

func newQueue[T any]() *queue[T] { return &queue[T]{wake: make(chan struct{}, 1)} }

func (q *queue[T]) push(item T) {
	q.mutex.Lock()
	if !q.closed {
		q.items = append(q.items, item)
	}
	q.mutex.Unlock()
	q.signal()
}

func (q *queue[T]) signal() {
	select {
	case q.wake <- struct{}{}:
	default:
	}
}

// next waits for an item. It reports false once the queue is closed or the context is done.
func (q *queue[T]) next(ctx context.Context) (item T, ok bool) {
	for {
		q.mutex.Lock()
		if n := len(q.items); n > 0 {
			item, q.items[0] = q.items[0], item
			q.items = q.items[1:]
			q.mutex.Unlock()
			return item, true
		}
		closed := q.closed
		q.mutex.Unlock()
		if closed {
			return item, false
		}
		select {
		case <-q.wake:
		case <-ctx.Done():
			return item, false
		}
	}
}

// finish takes nothing more; what waits can still be read.
func (q *queue[T]) finish() {
	q.mutex.Lock()
	q.closed = true
	q.mutex.Unlock()
	q.signal()
}

// close forgets what waits and ends the reader's wait.
func (q *queue[T]) close() {
	q.mutex.Lock()
	q.closed, q.items = true, nil
	q.mutex.Unlock()
	q.signal()
}
