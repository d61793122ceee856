package seal

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// mendCopyTables writes afresh the tables by which text is copied out (ISO
// 32000-1, 9.10.3). gopdf puts them in one block however long it is, where 100
// entries are the limit, in a code space that leaves out most codes, and with
// two entries where two signs share a glyph; some readers take that badly.
func (f *file) mendCopyTables(u *update) {
	for _, num := range slices.Sorted(maps.Keys(f.offsets)) {
		off := f.offsets[num]
		if off < 0 || off >= len(f.b) {
			continue
		}
		head := f.b[off:min(len(f.b), off+200)]
		if !bytes.Contains(head, []byte("stream\n/CIDInit")) {
			continue
		}
		data, err := f.stream(num, 1<<20)
		if err != nil {
			continue
		}
		if table, ok := copyTable(string(data)); ok {
			u.set(num, "<< /Length %d >>\nstream\n%s\nendstream", len(table), table)
		}
	}
}

func copyTable(old string) (string, bool) {
	_, rest, ok := strings.Cut(old, "beginbfrange\n")
	body, _, ok2 := strings.Cut(rest, "endbfrange")
	if !ok || !ok2 {
		return "", false
	}
	signs := map[uint64]string{}
	for l := range strings.Lines(body) {
		p := strings.FieldsFunc(l, func(r rune) bool { return r == '<' || r == '>' || r == '\n' })
		if len(p) != 3 || p[0] != p[1] || len(p[0]) != 4 || len(p[2]) != 4 {
			return "", false
		}
		code, err := strconv.ParseUint(p[0], 16, 16)
		if err != nil {
			return "", false
		}
		if _, known := signs[code]; !known { // the sign met first
			signs[code] = p[2]
		}
	}
	var b strings.Builder
	b.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n" +
		"/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n" +
		"/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n" +
		"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	for block := range slices.Chunk(slices.Sorted(maps.Keys(signs)), 100) {
		fmt.Fprintf(&b, "%d beginbfchar\n", len(block))
		for _, code := range block {
			fmt.Fprintf(&b, "<%04X> <%s>\n", code, signs[code])
		}
		b.WriteString("endbfchar\n")
	}
	b.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend")
	return b.String(), true
}
