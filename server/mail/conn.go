package mail

import (
	"net"
	"sync"
	"time"
)

// stepConn limits every single read and write instead of the whole
// conversation, so that a large letter on a slow line is not cut off, and lets
// a cancelled context end the conversation.
//
// Once the last line of a letter goes out, cancelling no longer cuts the line,
// for that would make the letter Unsure: it only stops waiting after one step.
type stepConn struct {
	net.Conn
	mu        sync.Mutex
	step      time.Duration // limit of each read and write
	wait      time.Duration // limit of the next read; step until commit
	committed bool
	cancelled bool
}

func newStepConn(c net.Conn, step time.Duration) *stepConn {
	return &stepConn{Conn: c, step: step, wait: step}
}

func (c *stepConn) Read(p []byte) (int, error) {
	c.mu.Lock()
	err := c.SetReadDeadline(time.Now().Add(c.wait))
	c.mu.Unlock()
	if err != nil {
		return 0, err
	}
	return c.Conn.Read(p)
}

func (c *stepConn) Write(p []byte) (int, error) {
	if err := c.SetWriteDeadline(time.Now().Add(c.step)); err != nil {
		return 0, err
	}
	return c.Conn.Write(p)
}

// SetDeadline does nothing: the protocol client sets one for the whole
// conversation, which Read and Write replace by one for each step.
func (c *stepConn) SetDeadline(time.Time) error { return nil }

// commit is called just before the last line goes out. It reports false if the
// context was cancelled first; the letter then stays unsent.
func (c *stepConn) commit(wait time.Duration) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.cancelled {
		return false
	}
	c.committed, c.wait = true, wait
	return true
}

// settled ends the long wait of commit.
func (c *stepConn) settled() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.wait = c.step
}

// cancel is called when the context ends.
func (c *stepConn) cancel() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.cancelled = true
	if !c.committed {
		_ = c.Close()
		return
	}
	c.wait = min(c.wait, c.step)
	_ = c.SetReadDeadline(time.Now().Add(c.wait))
}
