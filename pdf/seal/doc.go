// Package seal finishes a PDF made by gopdf and proves later that it is
// unaltered. It reads and writes bytes only and needs no fonts, so a command
// that verifies documents can use it alone.
//
// [Tag] writes what gopdf made again with marked content and the tree of its
// structure. [Finish] appends an incremental update (ISO 32000-1, 7.5.6) with what gopdf
// cannot write: language, XMP metadata, an indirect Info dictionary, a file
// identifier and attached files. [Seal] then appends one comment line
//
//	%gaugebook-seal ed25519 <fingerprint> <signature>
//
// with the first 16 hex digits of the SHA-256 of the public key and the base64
// Ed25519 signature (RFC 8032) over the SHA-256 of every byte before that line.
package seal
