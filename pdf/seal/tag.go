package seal

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Element is a part of the structure of a document (ISO 32000-1, 14.7): what it
// is, what it is read as if it is a picture, and the pieces of the pages or the
// elements that it is made of.
type Element struct {
	Role  string // a standard structure type
	Alt   string
	Marks []Mark
	Kids  []*Element
}

// Mark is a piece of marked content: the page, from 0, and its number on it.
type Mark struct{ Page, ID int }

// gopdf writes no marked content, but dash patterns that it is given. These
// lengths of dashes, which no pen has, stand for what [Tag] writes in their
// place; the phase of the second is the number of the mark.
const (
	ArtifactSign = 88881 // /Artifact BMC
	MarkSign     = 88882 // /Span << /MCID n >> BDC
	EndSign      = 88883 // EMC
)

var signs = regexp.MustCompile(`\[(8888[123])\.00\] (\d+)\.00 d\n`)

// Tag writes a document of gopdf, made without compression, again with its
// structure: marked content in place of the signs, the tree of elements, and
// the tree that leads from a piece of a page to its element. The contents of
// the pages are compressed. It is to be given to [Finish].
func Tag(pdf []byte, root *Element) ([]byte, error) {
	f, err := parse(pdf)
	if err != nil {
		return nil, err
	}
	rootRef, ok := f.trailer["Root"].(ref)
	catalog := f.dict(f.trailer["Root"])
	size, ok2 := f.trailer["Size"].(float64)
	if !ok || !ok2 || catalog == nil || f.trailer["Prev"] != nil {
		return nil, errors.New("seal: no PDF fresh from gopdf")
	}
	w := &tagger{f: f, u: &update{offsets: map[int]int{}, next: int(size)}, replaced: map[int]string{}}
	if err := w.pages(catalog); err != nil {
		return nil, err
	}
	tree := w.reserve()
	w.parents = make([][]ref, len(w.kids))
	top := w.element(root, tree)
	var nums strings.Builder
	for i, of := range w.parents {
		fmt.Fprintf(&nums, " %d %v", i, w.object("[%s]", joinRefs(of)))
	}
	parents := w.object("<</Nums[%s ]>>", nums.String())
	w.replaced[tree.num] = fmt.Sprintf("<</Type/StructTreeRoot/K %v/ParentTree %v/ParentTreeNextKey %d>>", top, parents,
		len(w.parents))
	marked := w.object("<</Marked true>>")
	w.replaced[rootRef.num] = fmt.Sprintf("<<%s /StructTreeRoot %v /MarkInfo %v >>", inner(f.raw(rootRef.num)), tree,
		marked)
	return w.write(rootRef), nil
}

// tagger rewrites the objects of a file.
type tagger struct {
	f        *file
	u        *update
	replaced map[int]string // objects by number: others stay as they are
	kids     []ref          // the pages
	parents  [][]ref        // of each page, the element of each mark
}

func (w *tagger) reserve() ref {
	w.u.next++
	return ref{w.u.next - 1, 0}
}

func (w *tagger) object(format string, args ...any) ref {
	r := w.reserve()
	w.replaced[r.num] = fmt.Sprintf(format, args...)
	return r
}

// pages puts marked content into the contents of every page.
func (w *tagger) pages(catalog dict) error {
	list, _ := w.f.dict(catalog["Pages"])["Kids"].([]any)
	for i, k := range list {
		r, ok := k.(ref)
		page := w.f.dict(k)
		contents, ok2 := page["Contents"].(ref)
		if !ok || !ok2 {
			return fmt.Errorf("seal: page %d has no contents", i+1)
		}
		w.kids = append(w.kids, r)
		w.replaced[r.num] = fmt.Sprintf("<<%s /StructParents %d /Tabs /S >>", inner(w.f.raw(r.num)), i)
		data, err := w.f.stream(contents.num, MaxAttachmentBytes)
		if err != nil {
			return err
		}
		data = signs.ReplaceAllFunc(data, func(sign []byte) []byte {
			part := signs.FindSubmatch(sign)
			switch kind, _ := strconv.Atoi(string(part[1])); kind {
			case ArtifactSign:
				return []byte("/Artifact BMC\n")
			case MarkSign:
				return fmt.Appendf(nil, "/Span <</MCID %s>> BDC\n", part[2])
			}
			return []byte("EMC\n")
		})
		var z bytes.Buffer
		out := zlib.NewWriter(&z)
		out.Write(data) // a bytes.Buffer takes everything
		out.Close()
		w.replaced[contents.num] = fmt.Sprintf("<</Filter/FlateDecode/Length %d>>\nstream\n%s\nendstream", z.Len(),
			z.Bytes())
	}
	return nil
}

// element writes an element with all below it.
func (w *tagger) element(e *Element, parent ref) ref {
	r := w.reserve()
	var b strings.Builder
	fmt.Fprintf(&b, "<</S/%s/P %v", escapeName(e.Role), parent)
	if e.Alt != "" {
		fmt.Fprintf(&b, "/Alt %s", textString(e.Alt))
	}
	if e.Role == "TH" {
		b.WriteString("/A<</O/Table/Scope/Column>>")
	}
	var kids []string
	for i, m := range e.Marks {
		if i == 0 {
			fmt.Fprintf(&b, "/Pg %v", w.kids[m.Page])
		}
		if m.Page == e.Marks[0].Page {
			kids = append(kids, strconv.Itoa(m.ID))
		} else {
			kids = append(kids, fmt.Sprintf("<</Type/MCR/Pg %v/MCID %d>>", w.kids[m.Page], m.ID))
		}
		for len(w.parents[m.Page]) <= m.ID {
			w.parents[m.Page] = append(w.parents[m.Page], r)
		}
		w.parents[m.Page][m.ID] = r
	}
	for _, k := range e.Kids {
		kids = append(kids, w.element(k, r).String())
	}
	fmt.Fprintf(&b, "/K[%s]>>", strings.Join(kids, " "))
	w.replaced[r.num] = b.String()
	return r
}

// write writes the file again.
func (w *tagger) write(root ref) []byte {
	nums := slices.Sorted(maps.Keys(w.f.offsets))
	byPlace := slices.SortedFunc(slices.Values(nums), func(a, b int) int {
		return cmp.Compare(w.f.offsets[a], w.f.offsets[b])
	})
	w.u.Write(w.f.b[:w.f.offsets[byPlace[0]]])
	for _, num := range byPlace {
		if text, ok := w.replaced[num]; ok {
			w.u.set(num, "%s", text)
			continue
		}
		w.u.offsets[num] = w.u.Len()
		w.u.Write(bytes.TrimRight(w.f.object(num), "\n"))
		w.u.WriteString("\n")
	}
	for _, num := range slices.Sorted(maps.Keys(w.replaced)) {
		if _, old := w.f.offsets[num]; !old {
			w.u.set(num, "%s", w.replaced[num])
		}
	}
	at := w.u.Len()
	fmt.Fprintf(w.u, "xref\n0 %d\n0000000000 65535 f \n", w.u.next)
	for num := 1; num < w.u.next; num++ {
		fmt.Fprintf(w.u, "%010d 00000 n \n", w.u.offsets[num])
	}
	fmt.Fprintf(w.u, "trailer\n<< /Size %d /Root %v >>\nstartxref\n%d\n%%%%EOF\n", w.u.next, root, at)
	return w.u.Bytes()
}

// object is an object as it stands in a file that was written at one go.
func (f *file) object(num int) []byte {
	end := f.last
	for _, off := range f.offsets {
		if off > f.offsets[num] && off < end {
			end = off
		}
	}
	return f.b[f.offsets[num]:end]
}

// raw is the dictionary of an object that is no stream.
func (f *file) raw(num int) string { return string(f.object(num)) }

// inner is what stands between the brackets of a dictionary.
func inner(object string) string {
	_, rest, _ := strings.Cut(object, "<<")
	if end := strings.LastIndex(rest, ">>"); end >= 0 {
		rest = rest[:end]
	}
	return strings.TrimSpace(rest)
}

func joinRefs(of []ref) string {
	parts := make([]string, len(of))
	for i, r := range of {
		parts[i] = r.String()
	}
	return strings.Join(parts, " ")
}
