package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/demo"
	"gaugebook/server/mail"
)

type demoCommand struct {
	home
	Listen     string `default:"127.0.0.1:8180" help:"Address that the register will be served on, for the links in its records."`
	Appliances int    `help:"Instead of the story, generate this many appliances with three records each, to try out a large register." placeholder:"N"`
}

// Run fills the register if there is none yet, and prints the sign-ins either
// way. Each register gets passwords of its own, kept beside it: none is
// in the program.
func (c *demoCommand) Run(e *env) error {
	if c.fresh() {
		if err := c.fill(e); err != nil {
			return errors.Join(err, c.clear())
		}
	}
	text, err := os.ReadFile(c.signIns())
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s holds a register that is no demo; name an empty folder with --data", c.Data)
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "Demo register of an invented firm in %s. Sign in as:\n\n%s\n", c.Data, text)
	return err
}

func (c *demoCommand) fill(e *env) error {
	zone, err := time.LoadLocation(defaultZone)
	if err != nil {
		return err
	}
	key, err := c.key(true)
	if err != nil {
		return err
	}
	clock := demo.Clock{Latest: time.Now()}
	st, err := c.openToFill(e.ctx, clock.Now)
	if err != nil {
		return err
	}
	defer st.Close()
	options := demo.Options{
		Store: st, Key: key, BaseURL: baseOf(c.Listen), Clock: &clock,
		Today: records.DateOf(time.Now().In(zone)), Zone: zone, Hash: app.HashPassword,
		Sender: mail.Folder{Dir: c.mailDir()},
	}
	var signIns []demo.SignIn
	if c.Appliances != 0 {
		signIns, err = c.fillMany(e, options)
	} else {
		signIns, err = demo.Fill(e.ctx, options)
	}
	if err != nil {
		return err
	}
	var text strings.Builder
	tw := tabwriter.NewWriter(&text, 0, 0, 3, ' ', 0)
	for _, s := range signIns {
		fmt.Fprintf(tw, "  %s\t%s\t%s\t%s\n", s.Role, s.Email, s.Password, s.Name)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	return os.WriteFile(c.signIns(), []byte(text.String()), 0o600)
}

// fillMany fills a large register and says what it holds and how fast it was
// written.
func (c *demoCommand) fillMany(e *env, o demo.Options) ([]demo.SignIn, error) {
	signIns, r, err := demo.FillMany(e.ctx, o, c.Appliances, func(done int) {
		if done%10_000 == 0 {
			fmt.Fprintf(e.stderr, "%d of %d appliances\n", done, c.Appliances)
		}
	})
	if err != nil {
		return nil, err
	}
	filled, bare := r.PerSecond()
	_, err = fmt.Fprintf(e.stdout, "%d generated appliances, each at an address of its own, with %d issued records "+
		"in all and the services due from them.\nThey are made up by rule, not a story: the records of one model "+
		"share a few readings and the one finding kept of them; each record is sealed with this register's "+
		"key,\nnothing is printed before its PDF is first opened, and no mail was sent.\n%d rows in %.1f s, making "+
		"them included: %.0f rows/s. A bare SQLite loop wrote %d of the same rows, ready made, without index or "+
		"check, at %.0f rows/s: ratio %.2f.\n\n",
		r.Appliances, r.Records, r.Rows, r.Took.Seconds(), filled, r.BareRows, bare, filled/bare)
	return signIns, err
}

// clear takes away a register that was not filled to the end, so that the
// next try starts afresh.
func (c *demoCommand) clear() error {
	var errs []error
	for _, name := range []string{c.database(), c.database() + "-wal", c.database() + "-shm", c.keyFile(),
		c.mailDir()} {
		if err := os.RemoveAll(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}
