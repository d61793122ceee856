package main

import (
	"bytes"
	"errors"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"golang.org/x/net/html/atom"
)

// enter fills in the form of a page that is sent to the page's own address
// with an end, and sends it.
func (v *visitor) enter(at, end string, in fields) *page {
	v.tb.Helper()
	return v.get(at).fill(at+end, in).press().was(http.StatusOK)
}

// formsTo lists the actions of a page's forms that end so.
func formsTo(p *page, end string) []string {
	var out []string
	for n := range p.elements(atom.Form) {
		if a, _, _ := strings.Cut(attr(n, "action"), "#"); strings.HasSuffix(a, end) {
			out = append(out, a)
		}
	}
	return out
}

// formBeside returns the form to an action that ends so, in the line of a list
// or table that has the words.
func (p *page) formBeside(end, words string) *form {
	p.v.tb.Helper()
	for _, action := range formsTo(p, end) {
		f := p.form(action)
		for n := f.node; n != nil; n = n.Parent {
			if n.DataAtom == atom.Li || n.DataAtom == atom.Tr {
				if strings.Contains(textOf(n), words) {
					return f
				}
				break
			}
		}
	}
	p.v.tb.Fatalf("%s has no form to …%s beside %q\n%s", p.path, end, words, p.words())
	return nil
}

// upload posts a form with a file.
func (v *visitor) upload(path string, in fields, field, name string, file []byte) *page {
	v.tb.Helper()
	body, kind := multipartOf(v.tb, in, field, name, file)
	req, err := http.NewRequest(http.MethodPost, v.base()+path, body)
	if err != nil {
		v.tb.Fatal(err)
	}
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	return v.do(req)
}

// multipartOf writes a form with a file.
func multipartOf(tb testing.TB, in fields, field, name string, file []byte) (*bytes.Buffer, string) {
	tb.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, key := range sortedKeys(in) {
		if err := w.WriteField(key, in[key]); err != nil {
			tb.Fatal(err)
		}
	}
	part, err := w.CreateFormFile(field, name)
	if err == nil {
		_, err = part.Write(file)
	}
	if err := errors.Join(err, w.Close()); err != nil {
		tb.Fatal(err)
	}
	return &b, w.FormDataContentType()
}
