package imports

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"gaugebook/records"
	"gaugebook/records/store"
)

// note is what is written down of the list on its way in, so that the next start
// of the server can say what became of it.
type note struct {
	Stage  Stage
	By     string // name
	Name   string
	SHA256 string
}

func (im *Importer) noteFile() string { return filepath.Join(im.store.Dir(), "upload.json") }

// writeDown keeps the note of the list; of one that has come to its end there is
// none. The caller holds the lock.
func (im *Importer) writeDown() {
	var err error
	if l := im.list; l == nil || l.Stage == Done || l.Stage == Failed {
		if err = os.Remove(im.noteFile()); errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
	} else if text, jerr := json.Marshal(note{l.Stage, l.By.Name, l.Name, l.sha256}); jerr == nil {
		err = os.WriteFile(im.noteFile(), text, 0o600)
	}
	if err != nil {
		im.log.Error("how far a list has come could not be noted", "error", err)
	}
}

// interrupted returns the list that was on its way in when the server stopped,
// with what became of it; nil for none. A list is taken in whole or not at all,
// and the log tells which.
func (im *Importer) interrupted() *List {
	text, err := os.ReadFile(im.noteFile())
	var n note
	if err != nil || json.Unmarshal(text, &n) != nil {
		return nil
	}
	l := &List{Stage: Failed, Name: n.Name, By: records.Person{Name: n.By},
		Problem: "The server was stopped before this list was imported. Nothing of it was: upload it again."}
	if n.Stage != Writing {
		return l
	}
	entries, err := im.store.Audit.Find(context.Background(), store.AuditQuery{What: "list imported", Subject: n.Name,
		Limit: 20})
	if err != nil {
		im.log.Error("what became of a list is not known", "error", err)
		l.Problem = "The server was stopped while this list was being imported. Look into the register before you " +
			"upload it again; importing it twice duplicates nothing."
	}
	for _, e := range entries {
		var d struct {
			SHA256                                              string
			Rows, Properties, Appliances, Duties, Updated, Left int
		}
		if json.Unmarshal(e.Detail, &d) == nil && d.SHA256 == n.SHA256 {
			l.Stage, l.Problem = Done, ""
			l.Count = store.ListCount{Rows: d.Rows, Properties: d.Properties, Appliances: d.Appliances,
				Duties:  d.Duties,
				Updated: d.Updated, Left: d.Left}
			break
		}
	}
	return l
}
