package main

import (
	"archive/tar"
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	v1 "github.com/google/go-containerregistry/pkg/v1"
)

// standIn is a program that needs of its surroundings what ours does.
const standIn = `package main

import (
	"fmt"
	"os"
)

func main() {
	for _, name := range []string{"/data/register.db", "/tmp/scratch"} {
		if err := os.WriteFile(name, []byte("x"), 0o600); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
	}
	_, err := os.Create("/other")
	fmt.Println(os.Getuid(), os.Args[1:], err != nil)
}
`

// built makes the files of a release around the stand-in.
func built(t *testing.T) (r *release, program string) {
	t.Helper()
	dir := t.TempDir()
	source := filepath.Join(dir, "main.go")
	if err := os.WriteFile(source, []byte(standIn), 0o600); err != nil {
		t.Fatal(err)
	}
	program = filepath.Join(dir, "gaugebook")
	cmd := exec.Command("go", "build", "-o", program, source)
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	t.Chdir("../..")
	return &release{version: "1.2.3", dir: dir, commit: "abc", at: time.Unix(1_800_000_000, 0)}, program
}

// files reads an archive to the end.
func files(t *testing.T, r io.Reader) (content map[string][]byte, heads map[string]*tar.Header) {
	t.Helper()
	content, heads = map[string][]byte{}, map[string]*tar.Header{}
	for tr := tar.NewReader(r); ; {
		h, err := tr.Next()
		if errors.Is(err, io.EOF) {
			return content, heads
		}
		if err != nil {
			t.Fatal(err)
		}
		name := strings.TrimSuffix(h.Name, "/")
		heads[name] = h
		if content[name], err = io.ReadAll(tr); err != nil {
			t.Fatal(err)
		}
	}
}

func open(t *testing.T, name string) *os.File {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// The image follows the OCI layout, by digests that are reckoned here, and what
// it holds is enough for a program that writes to its folder and to /tmp, run as
// the user and with the arguments that the image names.
func TestImage(t *testing.T) {
	r, program := built(t)
	name := filepath.Join(r.dir, "image.tar")
	if err := r.image(name, program); err != nil {
		t.Fatal(err)
	}
	again := filepath.Join(r.dir, "again.tar")
	if err := r.image(again, program); err != nil {
		t.Fatal(err)
	}
	if one, two := read(t, name), read(t, again); !bytes.Equal(one, two) {
		t.Error("built again, the image has other bytes")
	}
	in, _ := files(t, open(t, name))
	if got := string(in["oci-layout"]); !strings.Contains(got, `"imageLayoutVersion":`) {
		t.Errorf("oci-layout is %q", got)
	}
	blob := func(d v1.Descriptor) []byte {
		t.Helper()
		data := in["blobs/sha256/"+d.Digest.Hex]
		if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != d.Digest.Hex || int64(len(data)) != d.Size {
			t.Fatalf("%s is not what its digest says", d.Digest)
		}
		return data
	}
	decode := func(data []byte, to any) {
		t.Helper()
		if err := json.Unmarshal(data, to); err != nil {
			t.Fatal(err)
		}
	}
	var index v1.IndexManifest
	decode(in["index.json"], &index)
	if len(index.Manifests) != 1 {
		t.Fatalf("%d images", len(index.Manifests))
	}
	var manifest v1.Manifest
	decode(blob(index.Manifests[0]), &manifest)
	var config v1.ConfigFile
	decode(blob(manifest.Config), &config)
	if len(manifest.Layers) != 1 || config.Config.User != "65532:65532" || config.Architecture == "" {
		t.Fatalf("%+v", config)
	}
	zip, err := gzip.NewReader(bytes.NewReader(blob(manifest.Layers[0])))
	if err != nil {
		t.Fatal(err)
	}
	plain, err := io.ReadAll(zip)
	if err != nil {
		t.Fatal(err)
	}
	if sum := sha256.Sum256(plain); config.RootFS.DiffIDs[0].Hex != hex.EncodeToString(sum[:]) {
		t.Error("the layer is not what the configuration says")
	}
	runIn(t, plain, config.Config)
}

// runIn unpacks a layer and runs what the configuration says in it.
func runIn(t *testing.T, layer []byte, c v1.Config) {
	t.Helper()
	root := t.TempDir()
	content, heads := files(t, bytes.NewReader(layer))
	for name, h := range heads {
		path := filepath.Join(root, name)
		if h.Typeflag == tar.TypeDir {
			if err := os.Mkdir(path, 0o700); err != nil {
				t.Fatal(err)
			}
		} else if err := os.WriteFile(path, content[name], 0o600); err != nil {
			t.Fatal(err)
		}
		if os.Geteuid() == 0 {
			if err := os.Chown(path, h.Uid, h.Gid); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.Chmod(path, h.FileInfo().Mode().Perm()|h.FileInfo().Mode()&fs.ModeSticky); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(root, 0o755); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(c.Entrypoint[0], c.Cmd...)
	cmd.Dir, cmd.Env, cmd.SysProcAttr = "/", c.Env, &syscall.SysProcAttr{Chroot: root}
	want := "65532 [serve] true\n"
	if os.Geteuid() == 0 {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: nobody, Gid: nobody}
	} else { // as the only user of a space of its own
		cmd.SysProcAttr.Cloneflags = syscall.CLONE_NEWUSER
		cmd.SysProcAttr.UidMappings = []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}}
		want = "0 [serve] false\n"
	}
	if out, err := cmd.CombinedOutput(); err != nil || string(out) != want {
		t.Errorf("%q, %v", out, err)
	}
}

// The archive holds the program, runnable, and what to read first; the checksums
// are as sha256sum reads them.
func TestArchiveAndChecksums(t *testing.T) {
	r, program := built(t)
	if err := r.pack(filepath.Join(r.dir, "x.tar.gz"), "gaugebook-1.2.3", program); err != nil {
		t.Fatal(err)
	}
	zip, err := gzip.NewReader(bufio.NewReader(open(t, filepath.Join(r.dir, "x.tar.gz"))))
	if err != nil {
		t.Fatal(err)
	}
	content, heads := files(t, zip)
	if !bytes.Equal(content["gaugebook-1.2.3/gaugebook"], read(t, program)) ||
		heads["gaugebook-1.2.3/gaugebook"].Mode != 0o755 || len(content["gaugebook-1.2.3/LICENSE"]) == 0 {
		t.Errorf("%v", heads)
	}
	if err := r.checksums([]string{"x.tar.gz", "main.go"}); err != nil {
		t.Fatal(err)
	}
	check := exec.Command("sha256sum", "--check", "--strict", "SHA256SUMS")
	check.Dir = r.dir
	if out, err := check.CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, out)
	}
}

func TestVersionsThatAreNone(t *testing.T) {
	t.Parallel()
	for _, version := range []string{"", "1", "1.2", "v1.2.3", "1.2.3 -X main.x=y", "1.2.3-", "latest"} {
		if err := (&release{version: version, dir: filepath.Join(t.TempDir(), "dist")}).make(); err == nil ||
			!strings.Contains(err.Error(), "-version") {
			t.Errorf("%q: %v", version, err)
		}
	}
}

func read(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}
