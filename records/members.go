package records

import (
	"encoding/json"
	"strings"
)

// The functions here walk JSON that is known to be valid, one level at a time
// and in its order, and give each value as it was written.

// eachMember visits the members of an object.
func eachMember(object []byte, visit func(name string, value []byte)) {
	eachPart(object, func(_ int, part []byte) []byte {
		end := endOfValue(part)
		name, value := part[:end], trimSpace(part[end:])
		value = trimSpace(value[1:]) // the colon
		text := string(name[1 : len(name)-1])
		if strings.ContainsRune(text, '\\') {
			_ = json.Unmarshal(name, &text) // a valid text
		}
		length := endOfValue(value)
		visit(text, value[:length])
		return value[length:]
	})
}

// eachElement visits the elements of an array.
func eachElement(array []byte, visit func(i int, element []byte)) {
	eachPart(array, func(i int, part []byte) []byte {
		length := endOfValue(part)
		visit(i, part[:length])
		return part[length:]
	})
}

// eachPart visits what stands between the commas of an object or array. visit
// returns what follows the part.
func eachPart(data []byte, visit func(i int, part []byte) []byte) {
	rest := trimSpace(trimSpace(data)[1:])
	for i := 0; rest[0] != '}' && rest[0] != ']'; i++ {
		if rest = trimSpace(visit(i, rest)); rest[0] == ',' {
			rest = trimSpace(rest[1:])
		}
	}
}

// memberOf returns the value of the first member of that name, or "{}".
func memberOf(object []byte, name string) []byte {
	var found []byte
	eachMember(object, func(n string, value []byte) {
		if n == name && found == nil {
			found = value
		}
	})
	if found == nil {
		return []byte("{}")
	}
	return found
}

// endOfValue returns the length of the value that data begins with.
func endOfValue(data []byte) int {
	depth := 0
	for i := 0; i < len(data); i++ {
		switch data[i] {
		case '"':
			for i++; data[i] != '"'; i++ {
				if data[i] == '\\' {
					i++
				}
			}
			if depth == 0 {
				return i + 1
			}
		case '{', '[':
			depth++
		case '}', ']':
			if depth--; depth == 0 {
				return i + 1
			}
			if depth < 0 {
				return i // the end of what holds a number, true, false or null
			}
		case ',', ':', ' ', '\t', '\r', '\n':
			if depth == 0 {
				return i
			}
		}
	}
	return len(data)
}

func trimSpace(data []byte) []byte {
	for len(data) > 0 && (data[0] == ' ' || data[0] == '\t' || data[0] == '\r' || data[0] == '\n') {
		data = data[1:]
	}
	return data
}
