package rules

// Loosening lists the fields whose value can replace a limit or take a check
// away, a column of rows as section.field[].column.
func Loosening() []string {
	var out []string
	for i := range statedFigures {
		if s := &statedFigures[i]; s.rows != nil {
			out = append(out, s.rows.Key+"[]."+s.field.Key)
		} else {
			out = append(out, s.field.Key)
		}
	}
	for i := range answers {
		out = append(out, answers[i].field.Key)
	}
	return out
}
