package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// vacuumInto writes a whole copy of the database to dst, checks it and only then
// gives it its name. dst must not exist.
func vacuumInto(ctx context.Context, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, dst string) (err error) {
	tmp, err := tempName(dst)
	if err != nil {
		return err
	}
	defer os.Remove(tmp)
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", tmp); err != nil {
		return err
	}
	if err := integrity(ctx, tmp); err != nil {
		return err
	}
	if err := syncFile(tmp); err != nil {
		return err
	}
	if _, err := os.Lstat(dst); err == nil {
		return fail(ErrExists, "%s: there is a file of this name already", dst)
	}
	if err := os.Rename(tmp, dst); err != nil {
		return err
	}
	return syncDir(filepath.Dir(dst))
}

// tempName makes an empty file beside dst that nobody else can read; SQLite
// takes an empty file as a place for a copy.
func tempName(dst string) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(dst), "."+filepath.Base(dst)+".part-*")
	if err != nil {
		return "", err
	}
	return f.Name(), f.Close()
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	defer d.Close()
	d.Sync() // not every file system can; the name is there either way
	return nil
}

// integrity returns ErrDamaged unless the database at path is sound.
func integrity(ctx context.Context, path string) error {
	db, err := sql.Open(driverName, dsn(path, "ro"))
	if err != nil {
		return err
	}
	defer db.Close()
	var say string
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&say); err != nil {
		return explain(path, err)
	}
	if say != "ok" {
		return fail(ErrDamaged, "%s: %s", path, say)
	}
	if err := db.QueryRowContext(ctx, "SELECT \"table\" FROM pragma_foreign_key_check LIMIT 1").Scan(&say); err == nil {
		return fail(ErrDamaged, "%s: a row of %s refers to one that is missing", path, say)
	} else if !errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}
