package store_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// engineWords are what SQLite alone takes, or takes otherwise than PostgreSQL
// does: its functions, its own tables, clauses, literals and ways to say which
// index.
var engineWords = regexps(
	`\bprintf\s*\(`, `\bGLOB\b`, `\bjson_\w+\s*\(`, `\bsqlite_\w+`, `(?i)\bPRAGMA\b`, `\bpragma_\w+`,
	`(?i)\b_?rowid\b`, `\bdocid\b`, `\bMATCH\b`, `\bINDEXED BY\b`, `\bCROSS JOIN\b`, `\bNOCASE\b`,
	`\binstr\s*\(`, `\bgroup_concat\s*\(`, `\bVACUUM\b`, `\bINSERT OR\b`, `\bREPLACE INTO\b`, `\biif\s*\(`,
	`\bifnull\s*\(`, `\bstrftime\s*\(`, `\bjulianday\s*\(`, `\btotal\s*\(`, `\bx'`, `\bIS NOT \?`,
	`\bWITHOUT ROWID\b`, `\bRAISE\s*\(`, `_txlock|_journal_mode`, `\bsqlite3\b`, `\bLastInsertId\b`,
)

func regexps(words ...string) (out []*regexp.Regexp) {
	for _, w := range words {
		out = append(out, regexp.MustCompile(w))
	}
	return out
}

// onlyEngine are the imports of the engine.
var onlyEngine = []string{"github.com/mattn/go-sqlite3", "gorm.io/driver/sqlite"}

// What one engine alone understands stands in files named after it, so that
// the next engine knows what to write for itself.
func TestEngineWordsHaveFilesOfTheirOwn(t *testing.T) {
	t.Parallel()
	paths, err := filepath.Glob("*.go")
	if err != nil || len(paths) < 40 {
		t.Fatal(len(paths), err)
	}
	found := map[string]bool{}
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		engine := strings.HasPrefix(path, "sqlite_")
		for _, text := range literalsOf(t, path) {
			for _, word := range engineWords {
				if !word.MatchString(text.value) {
					continue
				}
				found[word.String()] = true
				if !engine {
					t.Errorf("%s:%d: %s belongs into a file sqlite_*.go: %s", path, text.line, word, text.value)
				}
			}
			for _, module := range onlyEngine {
				if text.value == module && !engine {
					t.Errorf("%s:%d: imports %s", path, text.line, module)
				}
			}
		}
	}
	if err := fs.WalkDir(os.DirFS("migrations"), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(filepath.Join("migrations", path))
		for _, word := range engineWords {
			found[word.String()] = found[word.String()] || word.Match(data)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	if len(found) < 14 {
		t.Errorf("only %d of the words occur anywhere: the test looks at the wrong texts", len(found))
	}
}

type literal struct {
	value string
	line  int
}

// literalsOf returns the strings and the names of methods called in a file.
func literalsOf(t *testing.T, path string) (out []literal) {
	t.Helper()
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, path, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BasicLit:
			if n.Kind == token.STRING {
				value, err := strconv.Unquote(n.Value)
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, literal{value, files.Position(n.Pos()).Line})
			}
		case *ast.SelectorExpr:
			out = append(out, literal{n.Sel.Name, files.Position(n.Pos()).Line})
		}
		return true
	})
	return out
}
