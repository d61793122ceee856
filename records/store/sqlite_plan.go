package store

// The queries of large tables say how they are answered: by which index, and
// which table after which. So a plan cannot change with the data, and tests
// that read the plans on a small register hold on a large one.

// by names the index that a table is read by.
func by(index string) string { return " INDEXED BY " + index + " " }

// then joins a table after those before it. It stands for JOIN.
const then = " CROSS JOIN "
