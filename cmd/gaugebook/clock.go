package main

import (
	"fmt"
	"time"
)

type clockCommand struct{ home }

// Run notes in the log that the clock is right: until then the server takes it to
// be behind, if it was ahead before.
func (c *clockCommand) Run(e *env) error {
	st, err := c.openKnown(e)
	if err != nil {
		return err
	}
	defer st.Close()
	if err := st.Audit.ClockIsRight(e.ctx, commandLine); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "It is noted that %s is the right time; records are issued from now on.\n",
		e.now().Format(time.RFC3339))
	return err
}
