// Package mail holds the words of the messages that leave by e-mail, each
// beside the type of its data. Server/mail sends them.
package mail

import (
	"bytes"
	"embed"
	htmltemplate "html/template"
	"strings"
	texttemplate "text/template"
)

//go:embed *.txt *.html
var sources embed.FS

// Message is a filled-in message. One without HTML is plain text only.
type Message struct{ Subject, Text, HTML string }

// Wording is the text of a message as it is written: a subject line and what
// follows it, both templates.
type Wording struct{ Subject, Text string }

// read takes a .txt file apart: "Subject: …", a blank line, the text.
func read(name string) Wording {
	data, err := sources.ReadFile(name + ".txt")
	if err != nil {
		panic(err)
	}
	head, text, ok := strings.Cut(string(data), "\n\n")
	subject, named := strings.CutPrefix(head, "Subject: ")
	if !ok || !named || strings.Contains(subject, "\n") {
		panic(name + ".txt does not begin with a line “Subject: …” and a blank one")
	}
	return Wording{Subject: subject, Text: strings.TrimSpace(text)}
}

// letter is a message whose wording is the program's own.
type letter struct {
	text *texttemplate.Template // "subject" and "text"
	html *htmltemplate.Template
}

// parse reads name.txt and name.html. A mistake in them ends the program when
// it starts.
func parse(name string) letter {
	w := read(name)
	text := texttemplate.Must(texttemplate.New("subject").Parse(w.Subject))
	texttemplate.Must(text.New("text").Parse(w.Text))
	return letter{text, htmltemplate.Must(htmltemplate.New(name+".html").ParseFS(sources, name+".html"))}
}

// fill writes the message. The templates are checked against the type of data
// in a test and write into memory, so they cannot fail.
func (l letter) fill(data any) Message {
	var subject, text, html bytes.Buffer
	for _, err := range []error{
		l.text.ExecuteTemplate(&subject, "subject", data), l.text.ExecuteTemplate(&text, "text", data),
		l.html.Execute(&html, data),
	} {
		if err != nil {
			panic(err)
		}
	}
	return Message{Subject: subject.String(), Text: text.String() + "\n", HTML: html.String()}
}
