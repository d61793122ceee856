// Command gaugebook runs the register and works on single records without
// it: check a record's readings, render it, verify an issued one, list the
// rules.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
	_ "golang.org/x/crypto/x509roots/fallback" // certificates to trust, where the machine has none

	"gaugebook/records"
)

// Exit codes; check's are part of its contract with scripts.
const (
	exitClear   = 0
	exitAdverse = 1
	exitBad     = 2 // bad input or usage
	exitOpen    = 3
	// exitAttention is of a record that can be issued, but not as clear.
	exitAttention = 4
)

func main() {
	private()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, time.Now))
}

// env is what a command may touch of the outside.
type env struct {
	ctx            context.Context
	stdin          io.Reader
	stdout, stderr io.Writer
	now            func() time.Time
	parsed         *kong.Context // the command line
	code           int           // exit code of a command that ended without error
}

type commands struct {
	Settings settingsFile `name:"config" env:"GAUGEBOOK_CONFIG" help:"File of settings, a line each: name = value." type:"path" placeholder:"FILE"`

	Serve    serveCommand      `cmd:"" help:"Run the register: pages, API and outgoing mail."`
	Demo     demoCommand       `cmd:"" help:"Fill a new register with an invented firm and print its sign-ins."`
	Owner    ownerCommand      `cmd:"" help:"Add an owner who can sign in; the way into an empty register."`
	Password passwordCommand   `cmd:"" help:"Give somebody a new password, read from standard input; they are told by mail."`
	Second   secondStepCommand `cmd:"" name:"second-step" help:"What accounts ask for besides a password."`
	Check    checkCommand      `cmd:"" help:"Judge the readings of one record (JSON). Exit 0 clear, 1 adverse, 3 open, 2 bad input or usage."`
	Render   renderCommand     `cmd:"" help:"Print one record (JSON) as a PDF. A record that was not issued is marked so."`
	Verify   verifyCommand     `cmd:"" help:"Tell whether a PDF is the record that was issued. Exit 0 genuine, 1 altered, unsealed, of another key or, with --server, no longer in force, 3 unaltered but nobody named the key, 2 bad input or usage."`
	Schema   schemaCommand     `cmd:"" help:"Print the JSON Schema of a record."`
	Rules    rulesCommand      `cmd:"" help:"List every rule with its limits, sources and dates in force."`
	Backup   backupCommand     `cmd:"" help:"Copy the register of a running server to a new file and check the copy."`
	Export   exportCommand     `cmd:"" help:"Write the whole register as JSON lines."`
	Import   importCommand     `cmd:"" help:"Fill an empty register with what export wrote."`
	Restore  restoreCommand    `cmd:"" help:"Restore a backup into an empty folder."`
	Key      keyCommand        `cmd:"" help:"The firm's key."`
	Undo     undoCommand       `cmd:"" name:"undo-upgrade" help:"Put the register back as it was before the last upgrade, if it has not been used since."`
	Audit    auditCommand      `cmd:"" help:"Prove that neither the audit log nor an issued record has been changed."`
	Clock    clockCommand      `cmd:"" name:"clock-is-right" help:"Say that the machine's clock is right now, after it was ahead, so that records are issued again."`
	Doctor   doctorCommand     `cmd:"" help:"Look for what is wrong with this installation, and say what to do. Changes nothing. Exit 0 all well, 4 something to attend to, 1 something wrong, 2 bad usage."`
	Config   configCommand     `cmd:"" help:"List every setting, its value and where it comes from."`
	Systemd  systemdCommand    `cmd:"" help:"Print a unit for systemd that gives the server as little of the machine as it needs."`
	Version  versionCommand    `cmd:"" help:"Print the version, the schema and the editions of rules."`
}

// run is main without the process around it.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer,
	now func() time.Time) (code int) {
	var c commands
	e := &env{ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr, now: now}
	exited := false
	parser, err := kong.New(&c,
		kong.Name("gaugebook"),
		kong.Description("The record that a newly fired gas appliance was measured, judged and handed over."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(n int) { exited = true; code = n }),
		kong.UsageOnError(), kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
	)
	if err != nil {
		fmt.Fprintln(stderr, "gaugebook:", err)
		return exitBad
	}
	k, err := parser.Parse(args)
	if exited { // --help
		return code
	}
	if err != nil {
		fmt.Fprintf(stderr, "gaugebook: %v\nRun “gaugebook --help” for the commands.\n", err)
		return exitBad
	}
	e.parsed = k
	if err := noSecretsIn(k); err != nil {
		report(stderr, err)
		return exitBad
	}
	if err := k.Run(e); err != nil {
		report(stderr, err)
		return exitBad
	}
	return e.code
}

// report prints one line for each thing that is wrong.
func report(w io.Writer, err error) {
	var all records.Errors
	var one *records.Error
	if !errors.As(err, &all) && errors.As(err, &one) {
		all = records.Errors{one}
	}
	if all == nil {
		fmt.Fprintln(w, "gaugebook:", err)
		return
	}
	about := strings.TrimSuffix(err.Error(), all.Error()) // the file, if what wraps the error names one
	for _, e := range all {
		name := ""
		if e.Field != "" && e.Label != "" {
			name = e.Field + ": "
		}
		fmt.Fprintf(w, "gaugebook: %s%s%s\n", about, name, e.Error())
	}
}

// open returns the named file, or standard input for "-".
func (e *env) open(name string) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(e.stdin), nil
	}
	no := func(why string) error {
		return &records.Error{Kind: records.Invalid, Field: "<file>", Value: name, Msg: why,
			Want: "a record as JSON, or - for standard input"}
	}
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, no("there is no such file")
	}
	if err != nil {
		return nil, err
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, no("this is a folder")
	}
	return f, nil
}
