package templates

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
)

//go:embed static
var static embed.FS

//go:embed css
var sheets embed.FS

// StyleSheet is the name of the one style sheet.
const StyleSheet = "css/app.css"

// styles is the style sheet: the files by topic, in the order in which a later
// one overrides an earlier. One request brings it all to a phone.
var styles = func() []byte {
	var all []byte
	for _, topic := range []string{"tokens", "base", "frame", "forms", "findings", "lists", "records", "tables",
		"charts",
		"phone", "desk", "print"} {
		data, err := sheets.ReadFile("css/" + topic + ".css")
		if err != nil {
			panic(err)
		}
		all = append(all, indent.ReplaceAll(data, nil)...)
	}
	return all
}()

// StaticVersion is a hash over every static file. It is one folder of their
// address, so that they can be kept for ever and modules that import each
// other by relative path change together.
var StaticVersion = func() string {
	h := sha256.New()
	add := func(name string, data []byte) {
		fmt.Fprintf(h, "%s %d\n", name, len(data))
		h.Write(data)
	}
	err := fs.WalkDir(static, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := static.ReadFile(name)
		add(name, data)
		return err
	})
	if err != nil {
		panic(err)
	}
	add(StyleSheet, styles)
	return hex.EncodeToString(h.Sum(nil))[:12]
}()

// kinds are the files that are served. Their types are named here and not
// asked of the machine, which may not know them.
var kinds = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
	".json": "application/json", ".webmanifest": "application/manifest+json", ".wasm": "application/wasm",
}

// File returns a static file and its content type. A name that is no file is
// fs.ErrNotExist.
func File(name string) (data []byte, kind string, err error) {
	kind, ok := kinds[path.Ext(name)]
	if !ok || !fs.ValidPath(name) {
		return nil, "", fs.ErrNotExist
	}
	if name == StyleSheet {
		return bytes.Clone(styles), kind, nil
	}
	data, err = static.ReadFile(path.Join("static", name))
	return data, kind, err
}
