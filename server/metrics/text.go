// Package metrics tells in numbers how the server stands, in the text format
// that collectors read. No number is of a person, and what a label can say comes
// from a list that the program knows.
package metrics

import (
	"bufio"
	"io"
	"strconv"
	"strings"
)

// Kind is how a collector reads a family.
type Kind string

// The kinds that are used here.
const (
	Counter   Kind = "counter"
	Gauge     Kind = "gauge"
	Histogram Kind = "histogram"
)

// Family is numbers of one name.
type Family struct {
	Name, Help string
	Kind       Kind
	Samples    []Sample
}

// Sample is one number. Suffix is what a histogram puts behind the family's name.
type Sample struct {
	Suffix string
	Labels []Label
	Value  float64
}

// Label tells a number from others of its family.
type Label struct{ Name, Value string }

// value makes a sample from pairs of label and value.
func value(v float64, pairs ...string) Sample {
	s := Sample{Value: v}
	for i := 0; i < len(pairs); i += 2 {
		s.Labels = append(s.Labels, Label{pairs[i], pairs[i+1]})
	}
	return s
}

var (
	inHelp  = strings.NewReplacer(`\`, `\\`, "\n", `\n`)
	inLabel = strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`)
)

// Write writes families in the Prometheus text format, version 0.0.4.
func Write(w io.Writer, families []Family) error {
	b := bufio.NewWriter(w)
	for _, f := range families {
		b.WriteString("# HELP " + f.Name + " " + inHelp.Replace(f.Help) + "\n")
		b.WriteString("# TYPE " + f.Name + " " + string(f.Kind) + "\n")
		for _, s := range f.Samples {
			b.WriteString(f.Name + s.Suffix)
			for i, l := range s.Labels {
				open := ","
				if i == 0 {
					open = "{"
				}
				b.WriteString(open + l.Name + `="` + inLabel.Replace(strings.ToValidUTF8(l.Value, "�")) + `"`)
			}
			if len(s.Labels) > 0 {
				b.WriteByte('}')
			}
			b.WriteString(" " + number(s.Value) + "\n")
		}
	}
	return b.Flush()
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
