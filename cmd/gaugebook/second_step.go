package main

import (
	"fmt"
	"time"

	"gaugebook/server/app"
	"gaugebook/server/signin"
)

type secondStepCommand struct {
	Remove secondStepRemoveCommand `cmd:"" help:"Take one-time codes, recovery codes and passkeys away from somebody who has lost them; they sign in with the password alone and are told by mail."`
}

type secondStepRemoveCommand struct {
	home
	Email string `required:"" help:"E-mail address that the person signs in with."`
}

// Run takes everything away that the account asks for besides the password.
func (c *secondStepRemoveCommand) Run(e *env) error {
	st, err := c.openKnown(e)
	if err != nil {
		return err
	}
	defer st.Close()
	p, err := st.People.ByEmail(e.ctx, c.Email)
	if err != nil {
		return err
	}
	steps, err := signin.New(&app.App{Store: st, Now: e.now, Zone: time.Local})
	if err != nil {
		return err
	}
	if err := steps.TakeAway(e.ctx, commandLine, p); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s signs in with the password alone; every open session has ended.\n", p.Name)
	return err
}
