package templates

import (
	"io/fs"
	"path"
)

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
	data, err = static.ReadFile(path.Join("static", name))
	return data, kind, err
}
