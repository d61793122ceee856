package seal

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"crypto/md5"
	"crypto/sha256"
	"encoding/xml"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Meta describes the document. Title and Created are required: the document
// says when it was made, and this package never asks a clock.
type Meta struct {
	Title    string
	Author   string
	Subject  string
	Keywords []string
	Creator  string    // the program that made the content
	Lang     string    // language tag; en-GB if empty
	Created  time.Time // written in UTC, to the second
}

// update collects the objects that are appended to a file.
type update struct {
	bytes.Buffer
	offsets map[int]int
	next    int
}

// add appends an object under a new number.
func (u *update) add(format string, args ...any) ref {
	u.next++
	u.set(u.next-1, format, args...)
	return ref{u.next - 1, 0}
}

// set appends an object that replaces the one of that number.
func (u *update) set(num int, format string, args ...any) {
	u.offsets[num] = u.Len()
	fmt.Fprintf(u, "%d 0 obj\n", num)
	fmt.Fprintf(u, format, args...)
	u.WriteString("\nendobj\n")
}

func (r ref) String() string { return fmt.Sprintf("%d %d R", r.num, r.gen) }

// Finish appends metadata and attachments to a PDF made by gopdf. The same
// input always gives the same bytes.
func Finish(pdf []byte, m Meta, attachments []Attachment) ([]byte, error) {
	switch {
	case strings.TrimSpace(m.Title) == "":
		return nil, errors.New("seal: title is empty: the document must be named")
	case m.Created.IsZero():
		return nil, errors.New("seal: date of creation is missing")
	case m.Created.UTC().Year() < 1 || m.Created.UTC().Year() > 9999:
		return nil, fmt.Errorf("seal: date of creation %v: a year of 1 to 9999 is wanted", m.Created)
	}
	if err := checkAttachments(attachments); err != nil {
		return nil, err
	}
	m.Lang = cmp.Or(m.Lang, "en-GB")
	f, err := parse(pdf)
	if err != nil {
		return nil, err
	}
	root, ok := f.trailer["Root"].(ref)
	size, ok2 := f.trailer["Size"].(float64)
	catalog := f.dict(f.trailer["Root"])
	if !ok || !ok2 || catalog == nil || size < 1 || size > float64(len(pdf)) {
		return nil, errors.New("seal: PDF without a catalog")
	}
	if f.trailer["Prev"] != nil || f.trailer["Encrypt"] != nil || catalog["Metadata"] != nil {
		return nil, errors.New("seal: PDF is finished, updated or encrypted already: one fresh from gopdf is wanted")
	}
	for k, v := range catalog {
		switch v.(type) {
		case name, ref: // all that gopdf writes there
		default:
			return nil, fmt.Errorf("seal: PDF catalog with %s %v: one fresh from gopdf is wanted", k, v)
		}
	}

	u := &update{offsets: map[int]int{}, next: int(size)}
	u.Write(pdf)
	if !bytes.HasSuffix(pdf, []byte("\n")) {
		u.WriteString("\n")
	}
	f.mendCopyTables(u)
	attachments = slices.SortedFunc(slices.Values(attachments), func(a, b Attachment) int {
		return cmp.Compare(a.Name, b.Name)
	})
	info := u.add("%s", infoDict(m))
	packet := xmp(m)
	metadata := u.add("<< /Type /Metadata /Subtype /XML /Length %d >>\nstream\n%s\nendstream", len(packet), packet)
	var names, specs strings.Builder
	for _, a := range attachments {
		spec := u.attach(a, m.Created)
		fmt.Fprintf(&names, " %s %v", textString(a.Name), spec)
		fmt.Fprintf(&specs, " %v", spec)
	}
	u.set(root.num, "%s", catalogDict(catalog, m, metadata, names.String(), specs.String()))
	u.close(f, root, info)
	return u.Bytes(), nil
}

func pdfDate(t time.Time) string { return t.UTC().Format("(D:20060102150405Z)") }

func infoDict(m Meta) string {
	var b strings.Builder
	b.WriteString("<<")
	for _, e := range [][2]string{
		{"Title", m.Title}, {"Author", m.Author}, {"Subject", m.Subject},
		{"Keywords", strings.Join(m.Keywords, ", ")}, {"Creator", m.Creator}, {"Producer", producer},
	} {
		if e[1] != "" {
			fmt.Fprintf(&b, " /%s %s", e[0], textString(e[1]))
		}
	}
	fmt.Fprintf(&b, " /CreationDate %s /ModDate %[1]s >>", pdfDate(m.Created))
	return b.String()
}

const producer = "Gaugebook"

func (u *update) attach(a Attachment, created time.Time) ref {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write(a.Data) // a bytes.Buffer takes everything
	w.Close()
	// The checksum is MD5 because ISO 32000-1, 7.11.4 says so. It guards nothing.
	data := u.add("<< /Type /EmbeddedFile /Subtype /%s /Filter /FlateDecode /Length %d /Params << /Size %d "+
		"/CheckSum <%x> /CreationDate %s /ModDate %[5]s >> >>\nstream\n%s\nendstream",
		escapeName(a.MIME), z.Len(), len(a.Data), md5.Sum(a.Data), pdfDate(created), z.Bytes())
	return u.add("<< /Type /Filespec /F %s /UF %[1]s /EF << /F %v /UF %[2]v >> /Desc %s /AFRelationship /Data >>",
		textString(a.Name), data, textString(a.Description))
}

// escapeName writes what is not a letter, digit, dot, plus or dash as #xx.
func escapeName(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c == '.' || c == '+' || c == '-' {
			b.WriteByte(c)
		} else {
			fmt.Fprintf(&b, "#%02X", c)
		}
	}
	return b.String()
}

func catalogDict(old dict, m Meta, metadata ref, names, specs string) string {
	var b strings.Builder
	b.WriteString("<<")
	for _, k := range slices.Sorted(maps.Keys(old)) {
		fmt.Fprintf(&b, " /%s ", escapeName(string(k)))
		if v, ok := old[k].(name); ok {
			b.WriteString("/" + escapeName(string(v)))
		} else {
			fmt.Fprint(&b, old[k])
		}
	}
	fmt.Fprintf(&b, " /Lang %s /ViewerPreferences << /DisplayDocTitle true >> /Metadata %v", textString(m.Lang),
		metadata)
	if specs != "" {
		fmt.Fprintf(&b, " /Names << /EmbeddedFiles << /Names [%s ] >> >> /AF [%s ]", names, specs)
	}
	b.WriteString(" >>")
	return b.String()
}

// close writes the cross-reference table and trailer.
func (u *update) close(f *file, root, info ref) {
	sum := sha256.Sum256(u.Bytes())
	at := u.Len()
	u.WriteString("xref\n")
	nums := slices.Sorted(maps.Keys(u.offsets))
	for i := 0; i < len(nums); {
		n := 1
		for i+n < len(nums) && nums[i+n] == nums[i]+n {
			n++
		}
		fmt.Fprintf(u, "%d %d\n", nums[i], n)
		for _, num := range nums[i : i+n] {
			fmt.Fprintf(u, "%010d 00000 n \n", u.offsets[num])
		}
		i += n
	}
	fmt.Fprintf(u, "trailer\n<< /Size %d /Root %v /Info %v /ID [<%x> <%[4]x>] /Prev %d >>\nstartxref\n%d\n%%%%EOF\n",
		u.next, root, info, sum[:16], f.last, at)
}

// xmp is the metadata as an XMP packet (ISO 16684-1).
func xmp(m Meta) string {
	esc := func(s string) string {
		var b strings.Builder
		xml.EscapeText(&b, []byte(s)) // a strings.Builder takes everything
		return b.String()
	}
	date := m.Created.UTC().Format(time.RFC3339)
	var b strings.Builder
	b.WriteString("<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		"<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n" +
		"<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" " +
		"xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\n")
	fmt.Fprintf(&b, "<dc:format>application/pdf</dc:format>\n<dc:title><rdf:Alt><rdf:li "+
		"xml:lang=\"x-default\">%s</rdf:li></rdf:Alt></dc:title>\n", esc(m.Title))
	fmt.Fprintf(&b, "<dc:language><rdf:Bag><rdf:li>%s</rdf:li></rdf:Bag></dc:language>\n", esc(m.Lang))
	if m.Author != "" {
		fmt.Fprintf(&b, "<dc:creator><rdf:Seq><rdf:li>%s</rdf:li></rdf:Seq></dc:creator>\n", esc(m.Author))
	}
	if m.Subject != "" {
		fmt.Fprintf(&b,
			"<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">%s</rdf:li></rdf:Alt></dc:description>\n",
			esc(m.Subject))
	}
	if len(m.Keywords) > 0 {
		fmt.Fprintf(&b, "<pdf:Keywords>%s</pdf:Keywords>\n", esc(strings.Join(m.Keywords, ", ")))
	}
	if m.Creator != "" {
		fmt.Fprintf(&b, "<xmp:CreatorTool>%s</xmp:CreatorTool>\n", esc(m.Creator))
	}
	fmt.Fprintf(&b,
		"<xmp:CreateDate>%s</xmp:CreateDate>\n<xmp:ModifyDate>%[1]s</xmp:ModifyDate>\n"+
			"<pdf:Producer>%s</pdf:Producer>\n", date, producer)
	b.WriteString("</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>")
	return b.String()
}
