// Package templatetest checks templates against the types of their data
// without executing them: a wrong field fails in a branch that no test takes.
package templatetest

import (
	"errors"
	"fmt"
	htmltemplate "html/template"
	"maps"
	"path"
	"slices"
	"strings"
	"testing"
	texttemplate "text/template"
	"text/template/parse"

	"github.com/jba/templatecheck"

	"gaugebook/templates"
)

// Pages checks every page of a set, and every part that is sent alone, against
// the type that its list declares. A partial that no page uses is an error too.
func Pages(tb testing.TB, set *templates.Set, lists []templates.Types) {
	tb.Helper()
	used := map[string]bool{} // of all that is defined, whether a page reaches it
	Each(set, lists, func(name string, page *htmltemplate.Template, part string, data any) {
		for _, t := range page.Templates() {
			if t.Name() != "" && path.Ext(t.Name()) == "" { // not a whole file
				used[t.Name()] = used[t.Name()]
			}
		}
		reached, err := HTML(page, part, data)
		if err != nil {
			tb.Errorf("page %s: %v", name, err)
		}
		for r := range reached {
			used[r] = true
		}
	})
	if len(used) == 0 {
		tb.Error("there are no pages")
	}
	for name, is := range used {
		if !is {
			tb.Errorf("the template %q is used by no page", name)
		}
	}
}

// Each visits what the lists declare.
func Each(set *templates.Set, lists []templates.Types,
	visit func(name string, page *htmltemplate.Template, part string, data any)) {
	for _, list := range lists {
		for _, name := range slices.Sorted(maps.Keys(list)) {
			page, part, ok := strings.Cut(name, "/")
			if !ok {
				part = "layout"
			}
			visit(name, set.Page(page), part, list[name])
		}
	}
}

// HTML checks the named template of a set and all that it calls against the
// type of data. It returns the names of the templates that were reached.
func HTML(set *htmltemplate.Template, name string, data any) (reached map[string]bool, err error) {
	t, reached, err := expanded(set, name)
	if err != nil {
		return reached, err
	}
	return reached, checked(func() error { return templatecheck.CheckHTMLStrict(t, data) })
}

// Text is HTML for a template that is not escaped.
func Text(set *texttemplate.Template, name string, data any) error {
	t, _, err := expanded(set, name)
	if err != nil {
		return err
	}
	return checked(func() error { return templatecheck.CheckTextStrict(t, data) })
}

// checked runs the checker, which panics where a template without data uses a
// field.
func checked(check func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a template that is called without data uses it: %v", r)
		}
	}()
	return check()
}

type templateSet[T any] interface {
	Clone() (T, error)
	Lookup(name string) T
	AddParseTree(name string, tree *parse.Tree) (T, error)
}

// expanded gives each call of a partial a copy of its own. The strict check
// wants one type of data for each template; ours take several, as "outcome"
// does the outcome of a reading and the state of a duty. With the copies, each
// call is checked with the type that it passes.
func expanded[T templateSet[T]](set T, name string) (t T, reached map[string]bool, err error) {
	if set, err = set.Clone(); err != nil {
		return t, nil, err
	}
	e := expansion{
		reached: map[string]bool{},
		tree:    func(name string) *parse.Tree { return treeOf(set.Lookup(name)) },
		add: func(name string, tree *parse.Tree) error {
			_, err := set.AddParseTree(name, tree)
			return err
		},
	}
	whole, err := e.expand(name, nil)
	return set.Lookup(whole), e.reached, err
}

func treeOf(t any) *parse.Tree {
	switch t := t.(type) {
	case *htmltemplate.Template:
		if t != nil {
			return t.Tree
		}
	case *texttemplate.Template:
		if t != nil {
			return t.Tree
		}
	}
	return nil
}

type expansion struct {
	tree    func(name string) *parse.Tree
	add     func(name string, tree *parse.Tree) error
	n       int
	reached map[string]bool
}

// expand copies a template and what it calls, and returns the copy's name.
func (e *expansion) expand(name string, within []string) (string, error) {
	if slices.Contains(within, name) {
		return "", fmt.Errorf("the template %q calls itself by way of %q", name, within)
	}
	tree := e.tree(name)
	if tree == nil {
		return "", fmt.Errorf("the template %q does not exist", name)
	}
	e.reached[name] = true
	tree = tree.Copy()
	var errs []error
	calls(tree.Root, func(call *parse.TemplateNode) {
		copied, err := e.expand(call.Name, append(slices.Clone(within), name))
		call.Name = copied
		errs = append(errs, err)
	})
	e.n++
	copied := fmt.Sprintf("%s (call %d)", name, e.n)
	return copied, errors.Join(append(errs, e.add(copied, tree))...)
}

// calls visits each {{template}} of a tree.
func calls(list *parse.ListNode, visit func(*parse.TemplateNode)) {
	if list == nil {
		return
	}
	branch := func(b parse.BranchNode) {
		calls(b.List, visit)
		calls(b.ElseList, visit)
	}
	for _, node := range list.Nodes {
		switch node := node.(type) {
		case *parse.TemplateNode:
			visit(node)
		case *parse.IfNode:
			branch(node.BranchNode)
		case *parse.RangeNode:
			branch(node.BranchNode)
		case *parse.WithNode:
			branch(node.BranchNode)
		}
	}
}
