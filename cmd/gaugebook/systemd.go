package main

import (
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"text/template"
	"unicode"
)

//go:embed gaugebook.service
var unitText string

type systemdCommand struct {
	Program  string   `help:"Where the program lies; default: where this one does." placeholder:"FILE"`
	Config   string   `name:"settings" default:"/etc/gaugebook.conf" help:"The file of settings."`
	LowPorts bool     `name:"low-ports" help:"Allow ports below 1024, for a server that speaks https itself."`
	Write    []string `name:"may-write" help:"Folders outside its own that the server may write to, such as that of backups." placeholder:"DIR"`
}

// Run prints the unit.
func (c *systemdCommand) Run(e *env) error {
	if c.Program == "" {
		own, err := os.Executable()
		if err != nil {
			return err
		}
		c.Program = own
	}
	for _, path := range append([]string{c.Program, c.Config}, c.Write...) {
		if !filepath.IsAbs(path) || strings.ContainsFunc(path, func(r rune) bool {
			return unicode.IsSpace(r) || unicode.IsControl(r) || strings.ContainsRune(`%"'\;$`, r)
		}) {
			return fmt.Errorf("%q: give a whole path, without blanks, quotes or %%, as a unit needs it", path)
		}
	}
	unit, err := template.New("unit").Parse(unitText)
	if err != nil {
		return err
	}
	return unit.Execute(e.stdout, struct {
		systemdCommand
		Unit string
	}{*c, "gaugebook.service"})
}
