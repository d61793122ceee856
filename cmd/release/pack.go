package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"time"

	v1 "github.com/google/go-containerregistry/pkg/v1"
	"github.com/google/go-containerregistry/pkg/v1/empty"
	"github.com/google/go-containerregistry/pkg/v1/layout"
	"github.com/google/go-containerregistry/pkg/v1/mutate"
	"github.com/google/go-containerregistry/pkg/v1/tarball"
	"github.com/google/go-containerregistry/pkg/v1/types"
)

// nobody is the user that the image runs as.
const nobody = 65532

// entry is a file or, without content, a folder of an archive.
type entry struct {
	name    string
	mode    int64
	owner   int
	content []byte
}

func writeTar(w io.Writer, at time.Time, entries []entry) error {
	tw := tar.NewWriter(w)
	for _, e := range entries {
		h := &tar.Header{Name: e.name, Mode: e.mode, Uid: e.owner, Gid: e.owner, ModTime: at,
			Size: int64(len(e.content)), Typeflag: tar.TypeReg, Format: tar.FormatPAX}
		if e.content == nil {
			h.Typeflag, h.Name = tar.TypeDir, e.name+"/"
		}
		if err := tw.WriteHeader(h); err != nil {
			return err
		}
		if _, err := tw.Write(e.content); err != nil {
			return err
		}
	}
	return tw.Close()
}

// pack writes the archive for a machine: the program and what to read first.
func (r *release) pack(name, folder, program string) (err error) {
	entries := []entry{{name: folder, mode: 0o755}}
	for _, file := range []struct {
		name string
		mode int64
	}{{program, 0o755}, {"README.md", 0o644}, {"LICENSE", 0o644}} {
		content, err := os.ReadFile(file.name)
		if err != nil {
			return err
		}
		entries = append(entries, entry{path.Join(folder, filepath.Base(file.name)), file.mode, 0, content})
	}
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	zip := gzip.NewWriter(f)
	err = writeTar(zip, r.at, entries)
	return errors.Join(err, zip.Close(), f.Close())
}

// image writes an archive in the OCI image layout. The image holds the program,
// a folder for the register and one for temporary files; the certificates that
// mail and webhooks are checked by are in the program.
func (r *release) image(name, program string) (err error) {
	content, err := os.ReadFile(program)
	if err != nil {
		return err
	}
	img, err := r.imageOf(content)
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "image-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	to, err := layout.Write(dir, empty.Index)
	if err != nil {
		return err
	}
	if err := to.AppendImage(img, layout.WithAnnotations(map[string]string{
		"org.opencontainers.image.ref.name": "gaugebook:" + r.version}),
		layout.WithPlatform(v1.Platform{OS: runtime.GOOS, Architecture: runtime.GOARCH})); err != nil {
		return err
	}
	var entries []entry
	err = filepath.WalkDir(dir, func(file string, d fs.DirEntry, err error) error {
		inside, rerr := filepath.Rel(dir, file)
		if err = errors.Join(err, rerr); err != nil || inside == "." {
			return err
		}
		if d.IsDir() {
			entries = append(entries, entry{name: inside, mode: 0o755})
			return nil
		}
		content, err := os.ReadFile(file)
		entries = append(entries, entry{inside, 0o644, 0, content})
		return err
	})
	if err != nil {
		return err
	}
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	return errors.Join(writeTar(f, r.at, entries), f.Close())
}

func (r *release) imageOf(program []byte) (v1.Image, error) {
	var files bytes.Buffer
	if err := writeTar(&files, r.at, []entry{{name: "data", mode: 0o700, owner: nobody}, {name: "tmp", mode: 0o1777},
		{name: "gaugebook", mode: 0o755, content: program}}); err != nil {
		return nil, err
	}
	layer, err := tarball.LayerFromOpener(func() (io.ReadCloser, error) {
		return io.NopCloser(bytes.NewReader(files.Bytes())), nil
	}, tarball.WithMediaType(types.OCILayer))
	if err != nil {
		return nil, err
	}
	base := mutate.ConfigMediaType(mutate.MediaType(empty.Image, types.OCIManifestSchema1), types.OCIConfigJSON)
	img, err := mutate.Append(base, mutate.Addendum{Layer: layer, MediaType: types.OCILayer,
		History: v1.History{Created: v1.Time{Time: r.at}, CreatedBy: "cmd/release"}})
	if err != nil {
		return nil, err
	}
	file, err := img.ConfigFile()
	if err != nil {
		return nil, err
	}
	file = file.DeepCopy()
	file.OS, file.Architecture, file.Created = runtime.GOOS, runtime.GOARCH, v1.Time{Time: r.at}
	file.Config = v1.Config{
		User: "65532:65532", Entrypoint: []string{"/gaugebook"}, Cmd: []string{"serve"}, WorkingDir: "/data",
		Env: []string{"GAUGEBOOK_DATA=/data", "GAUGEBOOK_LISTEN=0.0.0.0:8180", "SQLITE_TMPDIR=/data",
			"TMPDIR=/tmp"},
		ExposedPorts: map[string]struct{}{"8180/tcp": {}}, Volumes: map[string]struct{}{"/data": {}},
		Labels: map[string]string{"org.opencontainers.image.version": r.version,
			"org.opencontainers.image.revision": r.commit, "org.opencontainers.image.title": "Gaugebook"},
	}
	return mutate.ConfigFile(img, file)
}
