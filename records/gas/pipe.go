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
		{Code: "copper-10", Label: "Copper 10 x 0.6 mm", Material: Copper, NominalMM: 10, BoreMM: 8.8,
			RoughnessMM: copperRoughnessMM, TabulatedM3PerM: 0, Source: "bore: EN 1057", Confidence: "H"},
		{Code: "copper-12", Label: "Copper 12 x 0.6 mm", Material: Copper, NominalMM: 12, BoreMM: 10.8,
			RoughnessMM: copperRoughnessMM, TabulatedM3PerM: 0, Source: "bore: EN 1057", Confidence: "H"},
		{Code: "copper-15", Label: "Copper 15 x 0.7 mm", Material: Copper, NominalMM: 15, BoreMM: 13.6,
			RoughnessMM: copperRoughnessMM, TabulatedM3PerM: 0.00014, Source: en1057, Confidence: "H"},
		{Code: "copper-22", Label: "Copper 22 x 0.9 mm", Material: Copper, NominalMM: 22, BoreMM: 20.2,
			RoughnessMM: copperRoughnessMM, TabulatedM3PerM: 0.00032, Source: en1057, Confidence: "H"},
		{Code: "copper-28", Label: "Copper 28 x 0.9 mm", Material: Copper, NominalMM: 28, BoreMM: 26.2,
			RoughnessMM: copperRoughnessMM, TabulatedM3PerM: 0.00054, Source: en1057, Confidence: "H"},
		{Code: "copper-35", Label: "Copper 35 x 1.2 mm", Material: Copper, NominalMM: 35, BoreMM: 32.6,
			RoughnessMM: copperRoughnessMM, TabulatedM3PerM: 0.00084, Source: en1057, Confidence: "H"},
		{Code: "steel-15", Label: "Steel 15 nominal (1/2 in)", Material: Steel, NominalMM: 15, BoreMM: 16.1,
			RoughnessMM: steelRoughnessMM, TabulatedM3PerM: 0.00024, Source: en10255, Confidence: "H"},
		{Code: "steel-20", Label: "Steel 20 nominal (3/4 in)", Material: Steel, NominalMM: 20, BoreMM: 21.7,
			RoughnessMM: steelRoughnessMM, TabulatedM3PerM: 0.00046, Source: en10255, Confidence: "H"},
		{Code: "steel-25", Label: "Steel 25 nominal (1 in)", Material: Steel, NominalMM: 25, BoreMM: 27.3,
			RoughnessMM: steelRoughnessMM, TabulatedM3PerM: 0.00064, Source: en10255, Confidence: "H"},
		{Code: "steel-32", Label: "Steel 32 nominal (1 1/4 in)", Material: Steel, NominalMM: 32, BoreMM: 36.0,
			RoughnessMM: steelRoughnessMM, TabulatedM3PerM: 0.0011, Source: en10255, Confidence: "H"},
		{Code: "pe-20", Label: "Polyethylene 20 mm SDR 11", Material: Polyethylene, NominalMM: 20, BoreMM: 15.4,
			RoughnessMM: peRoughnessMM, TabulatedM3PerM: 0.00019, Source: en1555, Confidence: "H"},
		{Code: "pe-25", Label: "Polyethylene 25 mm SDR 11", Material: Polyethylene, NominalMM: 25, BoreMM: 20.4,
			RoughnessMM: peRoughnessMM, TabulatedM3PerM: 0.00033, Source: en1555, Confidence: "H"},
		{Code: "pe-32", Label: "Polyethylene 32 mm SDR 11", Material: Polyethylene, NominalMM: 32, BoreMM: 26.0,
			RoughnessMM: peRoughnessMM, TabulatedM3PerM: 0.00053, Source: en1555, Confidence: "H"},
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
