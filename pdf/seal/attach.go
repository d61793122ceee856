package seal

import (
	"fmt"
	"mime"
	"strings"
	"unicode/utf8"
)

// Attachment is a file carried inside the document.
type Attachment struct {
	Name        string // file name, as record.json
	MIME        string // media type, as application/json
	Description string
	Data        []byte
}

// Bounds of attachments, both when writing and when reading back.
const (
	MaxAttachments     = 64
	MaxAttachmentBytes = 32 << 20 // of all together, not compressed
)

func checkAttachments(list []Attachment) error {
	if len(list) > MaxAttachments {
		return fmt.Errorf("seal: %d attachments: at most %d are allowed", len(list), MaxAttachments)
	}
	seen, total := map[string]bool{}, 0
	for _, a := range list {
		if a.Name == "" || len(a.Name) > 200 || !utf8.ValidString(a.Name) ||
			strings.ContainsAny(a.Name, "/\\\x00\n\r") {
			return fmt.Errorf("seal: attachment name %q: 1 to 200 bytes of text without slashes are wanted", a.Name)
		}
		if seen[a.Name] {
			return fmt.Errorf("seal: two attachments are named %q", a.Name)
		}
		seen[a.Name] = true
		if t, _, err := mime.ParseMediaType(a.MIME); err != nil || !strings.Contains(t, "/") {
			return fmt.Errorf("seal: attachment %q: media type %q is not like application/json", a.Name, a.MIME)
		}
		total += len(a.Data)
	}
	if total > MaxAttachmentBytes {
		return fmt.Errorf("seal: attachments of %d bytes: at most %d are allowed", total, MaxAttachmentBytes)
	}
	return nil
}

// Attachments reads the attached files of a document that [Finish] made, by
// name, whether or not it is sealed. It proves nothing: see [VerifySeal]. Any
// input is safe: what is not well formed, or beyond the bounds above, is an
// error.
func Attachments(pdf []byte) (map[string][]byte, error) {
	f, err := parse(pdf)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	names := f.dict(f.dict(f.dict(f.trailer["Root"])["Names"])["EmbeddedFiles"])
	list, _ := f.resolve(names["Names"]).([]any)
	if len(list) > 2*MaxAttachments {
		return nil, fmt.Errorf("seal: %d attachments: at most %d are allowed", len(list)/2, MaxAttachments)
	}
	left := int64(MaxAttachmentBytes)
	for i := 1; i < len(list); i += 2 {
		spec := f.dict(list[i])
		uf, ok := f.resolve(spec["UF"]).([]byte)
		if !ok {
			return nil, fmt.Errorf("seal: attachment %d has no name", i/2+1)
		}
		r, ok := f.dict(spec["EF"])["F"].(ref)
		if !ok {
			return nil, fmt.Errorf("seal: attachment %q has no data", text(uf))
		}
		data, err := f.stream(r.num, left)
		if err != nil {
			return nil, err
		}
		if _, twice := files[text(uf)]; twice {
			return nil, fmt.Errorf("seal: two attachments are named %q", text(uf))
		}
		left -= int64(len(data))
		files[text(uf)] = data
	}
	return files, nil
}
