// Package layout sets text, tables and figures on A4 pages with gopdf. It knows
// nothing of what the pages say.
package layout
