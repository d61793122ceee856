package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaugebook/server/servertest"
)

// The server is killed while it takes a list in: nothing of it is there
// afterwards, the uploaded file is gone, and the list goes in the next time.
func TestKilledWhileAListGoesIn(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "few")
	people := demoPeople(t, must(t, "", "demo", "--data", dir, "--appliances", "40"))
	var list strings.Builder
	list.WriteString("Address line 1,Town,Postcode,Serial number,Last service\n")
	for i := range 20_000 {
		fmt.Fprintf(&list, "%d Elm Row,Upham,UP%d %dDE,S%d,2026-03-%02d\n", i, 1+i/900%90, i%9+1, i, i%28+1)
	}
	s := serve(t, dir)
	signedIn := func() *visitor { return s.visitor(t).signIn(people["office"][0], people["office"][1]) }
	v := signedIn()
	begin := func() {
		if p := uploadList(t, v, list.String()); p.status != http.StatusOK {
			t.Fatalf("upload: %d %s", p.status, p.words())
		}
		v.send("/import/columns", url.Values{"line1": {"0"}, "town": {"1"}, "postcode": {"2"}, "serial": {"3"},
			"last_service": {"4"}, "stand-nation": {"England"}, "stand-kind": {"boiler-system"}})
		untilStage(t, v, "checked", 0)
		v.send("/import/write", url.Values{})
	}
	begin()
	untilStage(t, v, "writing", 1000)
	s.kill()

	s.start(strings.TrimPrefix(s.base, "http://"))
	v = signedIn()
	v.get("/import").says("Upload")
	v.get("/register?q=elm").says("0 appliances in use")
	if left, err := filepath.Glob(filepath.Join(dir, "uploads", "*")); err != nil || len(left) > 0 {
		t.Errorf("%v stay behind: %v", left, err)
	}
	must(t, "", "audit", "--data", dir)
	begin()
	untilStage(t, v, "done", 0)
	v.get("/import").says("Imported")
	v.get("/register?q=S19999").says("1 appliance in use", "19999 Elm Row")
	s.stop()
	must(t, "", "audit", "--data", dir)
	if _, err := os.Stat(filepath.Join(dir, "uploads")); err == nil {
		if left, _ := filepath.Glob(filepath.Join(dir, "uploads", "*")); len(left) > 0 {
			t.Errorf("%v stay behind", left)
		}
	}
}

func uploadList(t *testing.T, v *visitor, text string) *page {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile("file", "list.csv")
	if err == nil {
		_, err = part.Write([]byte(text))
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequest(http.MethodPost, v.base()+"/import", &b)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	return v.do(req)
}

// untilStage waits until the list is at a stage, with some rows done.
func untilStage(t *testing.T, v *visitor, stage string, done int) {
	t.Helper()
	var now struct {
		Stage string
		Done  int
	}
	servertest.Eventually(t, "the list is "+stage, func() bool {
		if err := json.Unmarshal(v.get("/import/progress").body, &now); err != nil {
			t.Fatal(err)
		}
		return now.Stage == stage && now.Done >= done
	})
}
