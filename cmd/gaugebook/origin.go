package main

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"reflect"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/alecthomas/kong"
)

// settingsFile is a file of settings: a line each, “name = value”, named as the
// flags of “gaugebook serve” are. The environment outranks it, and the command
// line both.
type settingsFile string

// BeforeResolve has the flags that nobody gave read from the file.
func (f settingsFile) BeforeResolve(k *kong.Kong, ctx *kong.Context, trace *kong.Path) error {
	name, _ := ctx.FlagValue(trace.Flag).(settingsFile)
	known := map[string]bool{}
	for _, command := range k.Model.Children {
		if command.Name == "serve" {
			for _, flag := range command.Flags {
				known[flag.Name] = true
			}
		}
	}
	values, err := readSettingsFile(string(name), known)
	if err != nil {
		return err
	}
	ctx.AddResolver(kong.ResolverFunc(func(_ *kong.Context, _ *kong.Path, flag *kong.Flag) (any, error) {
		value, ok := values[flag.Name]
		if _, set := variable(flag); set || !ok {
			return nil, nil
		}
		if flag.IsSlice() {
			value = strings.Join(strings.FieldsFunc(value, func(r rune) bool {
				return r == ',' || unicode.IsSpace(r)
			}), ",")
		}
		return value, nil
	}))
	return nil
}

func readSettingsFile(name string, known map[string]bool) (map[string]string, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("--config: %w", err)
	}
	values := map[string]string{}
	n := 0
	for line := range strings.Lines(string(text)) {
		n++
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		setting, value, ok := strings.Cut(line, "=")
		setting = strings.TrimSpace(setting)
		_, twice := values[setting]
		switch {
		case !ok: // what the line holds may be a secret
			return nil, fmt.Errorf("--config %s: line %d is not “name = value”", name, n)
		case !known[setting]:
			return nil, fmt.Errorf("--config %s: line %d: %q is not a setting; “gaugebook config” lists them", name, n,
				setting)
		case twice:
			return nil, fmt.Errorf("--config %s: line %d: %s is there twice", name, n, setting)
		}
		values[setting] = strings.TrimSpace(value)
	}
	return values, nil
}

// Where the value of a setting may come from.
const (
	fromDefault = "default"
	fromFile    = "file"
	fromCommand = "command line"
)

// originOf says where the value of a flag comes from.
func originOf(k *kong.Context, flag *kong.Flag) string {
	for _, p := range k.Path {
		if p.Flag == flag && p.Resolved {
			return fromFile
		}
		if p.Flag == flag {
			return fromCommand
		}
	}
	if name, set := variable(flag); set {
		return "environment, " + name
	}
	return fromDefault
}

// variable returns the variable of the environment that sets a flag.
func variable(flag *kong.Flag) (name string, set bool) {
	for _, name := range flag.Envs {
		if _, set := os.LookupEnv(name); set {
			return name, true
		}
	}
	return "", false
}

// noSecretsIn refuses a secret on the command line, where whoever lists the
// processes of the machine can read it.
func noSecretsIn(k *kong.Context) error {
	for _, flag := range k.Flags() {
		if flag.Name == "smtp" && originOf(k, flag) == fromCommand && holdsPassword(flag.Target.String()) {
			return errors.New("--smtp: a password on the command line can be read by everybody on this machine: " +
				"leave it out there (smtp+starttls://user@mail.example:587), and put it into a file that " +
				"--smtp-password-file names, or into " + smtpPassword)
		}
	}
	return nil
}

// setting is a setting with its value as it may be shown.
type setting struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	From  string `json:"from"`
}

type configCommand struct {
	settings
	JSON bool `name:"json" help:"Print as JSON."`
}

// Run lists what a server started in the same way would go by.
func (c *configCommand) Run(e *env) error {
	var all []setting
	for _, flag := range e.parsed.Flags() {
		if flag.Hidden || slices.Contains([]string{"help", "json"}, flag.Name) {
			continue
		}
		all = append(all, setting{flag.Name, shown(flag), originOf(e.parsed, flag)})
	}
	for _, name := range secrets {
		all = append(all, c.secret(name))
	}
	if c.JSON {
		return writeJSON(e.stdout, all)
	}
	rows := make([][]string, len(all))
	for i, s := range all {
		rows[i] = []string{s.Name, s.Value, s.From}
	}
	return printTable(e.stdout, rows)
}

// secrets are the variables of the environment that hold one.
var secrets = []string{smtpPassword, keyPassphrase}

func (c *configCommand) secret(name string) setting {
	if os.Getenv(name) == "" {
		return setting{name, "not set", fromDefault}
	}
	return setting{name, hidden, "environment, " + name}
}

const hidden = "(not shown)"

// shown is the value of a flag without what is secret in it.
func shown(flag *kong.Flag) string {
	switch v := flag.Target.Interface().(type) {
	case []string:
		return strings.Join(v, ", ")
	case time.Duration:
		return v.String()
	case string:
		if u, err := url.Parse(v); err == nil && holdsPassword(v) {
			user := u.User.Username()
			u.User = nil
			return strings.Replace(u.String(), "://", "://"+url.PathEscape(user)+":"+hidden+"@", 1)
		}
		if flag.Name == "smtp" && strings.Contains(v, "@") {
			if _, err := url.Parse(v); err != nil {
				return hidden
			}
		}
		return v
	default:
		if flag.Target.Kind() == reflect.String {
			return flag.Target.String()
		}
		return fmt.Sprint(v)
	}
}
