package gas

import "math"

// PipeMaterial names what a pipe is made of.
type PipeMaterial string

// Materials of gas installation pipe.
const (
	Copper             PipeMaterial = "copper"
	Steel              PipeMaterial = "steel"
	Polyethylene       PipeMaterial = "polyethylene"
	CorrugatedMaterial PipeMaterial = "corrugated stainless steel"
)

// Pipe is one size of pipe. TabulatedM3PerM is the rounded figure of the
// tightness test procedure and is what a volume is computed with; BoreM3PerM
// follows from the bore. A pipe without a bore (corrugated) has a volume but
// no predicted pressure loss.
type Pipe struct {
	Code            string // stable, e.g. "copper-15"
	Label           string
	Material        PipeMaterial
	NominalMM       float64
	BoreMM          float64 // 0 when not known
	RoughnessMM     float64 // absolute, of the bore
	TabulatedM3PerM float64 // 0 when the procedure tabulates none
	Source          string
	Confidence      string // H, M or mem (see testdata/gas/README.md)
}

const (
	copperRoughnessMM = 0.0015
	steelRoughnessMM  = 0.046
	peRoughnessMM     = 0.0015

	pipeVolumeSource = "IGEM/UP/1B volume of pipe per metre; bore: "
)

// Pipes lists the known sizes, smallest first within a material.
func Pipes() []Pipe {
	const (
		en1057  = pipeVolumeSource + "EN 1057"
		en10255 = pipeVolumeSource + "EN 10255 medium, from memory"
		en1555  = pipeVolumeSource + "EN 1555-2 SDR 11, from memory"
	)
	return []Pipe{
		{"copper-10", "Copper 10 x 0.6 mm", Copper, 10, 8.8, copperRoughnessMM, 0, "bore: EN 1057", "H"},
		{"copper-12", "Copper 12 x 0.6 mm", Copper, 12, 10.8, copperRoughnessMM, 0, "bore: EN 1057", "H"},
		{"copper-15", "Copper 15 x 0.7 mm", Copper, 15, 13.6, copperRoughnessMM, 0.00014, en1057, "H"},
		{"copper-22", "Copper 22 x 0.9 mm", Copper, 22, 20.2, copperRoughnessMM, 0.00032, en1057, "H"},
		{"copper-28", "Copper 28 x 0.9 mm", Copper, 28, 26.2, copperRoughnessMM, 0.00054, en1057, "H"},
		{"copper-35", "Copper 35 x 1.2 mm", Copper, 35, 32.6, copperRoughnessMM, 0.00084, en1057, "H"},
		{"steel-15", "Steel 15 nominal (1/2 in)", Steel, 15, 16.1, steelRoughnessMM, 0.00024, en10255, "H"},
		{"steel-20", "Steel 20 nominal (3/4 in)", Steel, 20, 21.7, steelRoughnessMM, 0.00046, en10255, "H"},
		{"steel-25", "Steel 25 nominal (1 in)", Steel, 25, 27.3, steelRoughnessMM, 0.00064, en10255, "H"},
		{"steel-32", "Steel 32 nominal (1 1/4 in)", Steel, 32, 36.0, steelRoughnessMM, 0.0011, en10255, "H"},
		{"pe-20", "Polyethylene 20 mm SDR 11", Polyethylene, 20, 15.4, peRoughnessMM, 0.00019, en1555, "H"},
		{"pe-25", "Polyethylene 25 mm SDR 11", Polyethylene, 25, 20.4, peRoughnessMM, 0.00033, en1555, "H"},
		{"pe-32", "Polyethylene 32 mm SDR 11", Polyethylene, 32, 26.0, peRoughnessMM, 0.00053, en1555, "H"},
	}
}

// PipeByCode finds a pipe size; false if the code is not one of ours.
// Corrugated pipe is not listed: use CorrugatedPipe.
func PipeByCode(code string) (Pipe, bool) {
	for _, p := range Pipes() {
		if p.Code == code {
			return p, true
		}
	}
	return Pipe{}, false
}

// CorrugatedPipe is corrugated stainless pipe by the volume that its maker
// states, in m3 per metre (0.00001 to 0.01). Nominal size in mm is for the
// choice of a limit that goes by the largest pipe (5 to 100).
func CorrugatedPipe(nominalMM, statedM3PerM float64) (Pipe, error) {
	if err := first(
		within("nominal size of corrugated pipe", nominalMM, 5, 100, "mm"),
		within("stated volume of corrugated pipe", statedM3PerM, 0.00001, 0.01, "m3/m"),
	); err != nil {
		return Pipe{}, err
	}
	return Pipe{
		Code: "corrugated", Label: "Corrugated stainless steel, maker's volume",
		Material: CorrugatedMaterial, NominalMM: nominalMM,
		TabulatedM3PerM: statedM3PerM, Source: "entered from the maker's data", Confidence: "M",
	}, nil
}

// BoreM3PerM is the volume of a metre of pipe from its bore; for a pipe
// without a known bore it is the tabulated volume. Errors: a *RangeError when
// the pipe has neither. Source: geometry.
func (p Pipe) BoreM3PerM() (float64, error) {
	if p.BoreMM == 0 {
		return p.VolumeM3PerM()
	}
	if err := withinBore(p.BoreMM); err != nil {
		return 0, err
	}
	metres := p.BoreMM / 1000
	return math.Pi / 4 * metres * metres, nil
}

// VolumeM3PerM is the volume of a metre of pipe that the verdict uses: the
// tabulated one, or from the bore where the procedure tabulates none.
// Errors: a *RangeError when the pipe has neither.
func (p Pipe) VolumeM3PerM() (float64, error) {
	if p.TabulatedM3PerM == 0 && p.BoreMM != 0 {
		return p.BoreM3PerM()
	}
	if err := within("volume of pipe", p.TabulatedM3PerM, 0.00001, 0.1, "m3/m"); err != nil {
		return 0, err
	}
	return p.TabulatedM3PerM, nil
}

func withinBore(mm float64) error { return within("bore of pipe", mm, 1, 500, "mm") }
