package picture

import (
	"bytes"
	"encoding/binary"
)

// orientationOf returns how a JPEG is to be turned to stand upright, from 1
// (as it is) to 8, as its Exif data say; 1 when they say nothing that makes
// sense. It reads the markers up to the picture, then the first directory of
// the TIFF header in the Exif segment.
//
// Source: CIPA DC-008 (Exif) 4.5.2 and 4.6.5, tag 274 Orientation.
func orientationOf(file []byte) int {
	const app1, startOfScan = 0xE1, 0xDA
	if !bytes.HasPrefix(file, []byte{0xFF, 0xD8}) {
		return 1
	}
	for rest := file[2:]; len(rest) >= 4 && rest[0] == 0xFF; {
		if rest[1] == 0xFF { // fill bytes may stand before a marker
			rest = rest[1:]
			continue
		}
		marker, size := rest[1], int(binary.BigEndian.Uint16(rest[2:]))
		if marker == startOfScan || size < 2 || 2+size > len(rest) {
			return 1
		}
		segment := rest[4 : 2+size]
		if tiff, ok := bytes.CutPrefix(segment, []byte("Exif\x00\x00")); ok && marker == app1 {
			return tiffOrientation(tiff)
		}
		rest = rest[2+size:]
	}
	return 1
}

func tiffOrientation(tiff []byte) int {
	const tag, short = 274, 3
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder
	switch string(tiff[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	at := uint64(order.Uint32(tiff[4:]))
	if at+2 > uint64(len(tiff)) {
		return 1
	}
	entries := tiff[at+2:]
	for range order.Uint16(tiff[at:]) {
		if len(entries) < 12 {
			return 1
		}
		if order.Uint16(entries) == tag && order.Uint16(entries[2:]) == short && order.Uint32(entries[4:]) == 1 {
			if o := int(order.Uint16(entries[8:])); o >= 1 && o <= 8 {
				return o
			}
			return 1
		}
		entries = entries[12:]
	}
	return 1
}
