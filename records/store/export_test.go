package store

import (
	"context"
	"errors"
	"log/slog"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

// OpenWithGormCache opens a store whose readers prepare statements as gorm
// does with PrepareStmt: the mistake that TestFreshStoreNeverFreezes is for.
func OpenWithGormCache(ctx context.Context, opt Options) (*Store, error) {
	s, err := Open(ctx, opt)
	if err != nil {
		return nil, err
	}
	pool, err := s.reader.DB()
	if err == nil {
		config := gormConfig(slog.New(slog.DiscardHandler))
		config.PrepareStmt = true
		s.reader, err = gorm.Open(sqlite.New(sqlite.Config{Conn: pool}), config)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}
