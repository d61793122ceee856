package store_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// elsewhere are methods that write and have tests of their own, and where.
var elsewhere = map[string]string{
	"Bulk.Restore": "bulk_lines_test.go", "Bulk.Fill": "bulk_fill_test.go", "Photos.Keep": "photo_test.go",
	"Photos.Backup": "photo_test.go", "Store.Backup": "customer_test.go", "Store.Once": "once_test.go",
	"Store.FreeKeys": "once_test.go", "Photos.Sweep": "photo_test.go",
	"Store.AfterRestore": "cmd/gaugebook/restore_test.go",
	"Sessions.DeleteCtx": "people_test.go", "Sessions.Delete": "people_test.go", "Sessions.Commit": "people_test.go",
	"Links.AddTo": "delivery_test.go", "Chase.ReminderStands": "chase_test.go",
	"Bulk.Export": "bulk_lines_test.go", "Bulk.ExportSigned": "proof_test.go", "Bulk.TryList": "bulk_test.go",
	"Webhooks.ClaimDelivery": "webhook_test.go",
	"Store.Close":            "open_test.go", "Store.Writable": "proof_test.go", "Audit.Prove": "proof_test.go",
	"Audit.Proved": "proof_test.go", "Audit.Sign": "proof_test.go",
}

// writingMethods are the exported methods of the doors whose code, or that of
// the functions of the package that they call, begins a write transaction.
func writingMethods(t *testing.T) (out []string) {
	t.Helper()
	paths := must(filepath.Glob("*.go"))
	writes := map[string]bool{"write": true}
	type method struct {
		door, name string
		calls      []string
	}
	var all []method
	files := token.NewFileSet()
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		for _, d := range must(parser.ParseFile(files, path, nil, 0)).Decls {
			f, isFunc := d.(*ast.FuncDecl)
			if !isFunc || f.Recv == nil {
				continue
			}
			m := method{door: receiver(f), name: f.Name.Name}
			ast.Inspect(f, func(n ast.Node) bool {
				if call, isCall := n.(*ast.CallExpr); isCall {
					if sel, isSel := call.Fun.(*ast.SelectorExpr); isSel {
						m.calls = append(m.calls, sel.Sel.Name)
					}
				}
				return true
			})
			all = append(all, m)
		}
	}
	for range 5 { // as deep as calls of helpers go
		for _, m := range all {
			if !ast.IsExported(m.name) && slices.ContainsFunc(m.calls, func(c string) bool { return writes[c] }) {
				writes[m.name] = true
			}
		}
	}
	for _, m := range all {
		full := m.door + "." + m.name
		if ast.IsExported(m.name) && ast.IsExported(m.door) && elsewhere[full] == "" &&
			slices.ContainsFunc(m.calls, func(c string) bool { return writes[c] }) {
			out = append(out, full)
		}
	}
	if len(out) < 50 {
		t.Fatalf("only %d methods write: %v", len(out), out)
	}
	return out
}

func receiver(f *ast.FuncDecl) string {
	e := f.Recv.List[0].Type
	if star, isStar := e.(*ast.StarExpr); isStar {
		e = star.X
	}
	if name, isName := e.(*ast.Ident); isName {
		return name.Name
	}
	return ""
}
